package ledger

import "strings"

// ISO 4217, list one of 2024-06-25, and XCG of amendment 176, in force since 2025-03-31 (from memory): the codes that have a minor unit, by
// its decimals. ANG, which XCG replaced, and BGN stay: books have rows of before. The codes with
// 0, 3 and 4 decimals were compared with the published list; those with 2 are from memory of that list.
const (
	codes0 = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
	codes2 = "AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BOV BRL BSD BTN BWP BYN BZD " +
		"CAD CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD " +
		"GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD " +
		"MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD " +
		"RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD " +
		"USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG"
	codes3 = "BHD IQD JOD KWD LYD OMR TND"
	codes4 = "CLF UYW"
)

// MinorUnit returns the decimals of a currency's minor unit by ISO 4217, and whether the code is one.
func MinorUnit(code string) (decimals int32, ok bool) {
	if len(code) != 3 || strings.Contains(code, " ") {
		return 0, false
	}
	for _, list := range []struct {
		decimals int32
		codes    string
	}{{2, codes2}, {0, codes0}, {3, codes3}, {4, codes4}} {
		if strings.Contains(list.codes, code) {
			return list.decimals, true
		}
	}
	return 0, false
}
