package main

import (
	"fmt"

	"tarebook/inventory"
	"tarebook/inventory/toolpath"
	"tarebook/ledger"
)

// readFlags say how a sliced file is to be read where the file alone doesn't tell. Notes name them.
type readFlags struct {
	RelativeE    bool   `name:"relative-e" group:"The sliced file" about:"Every E word is relative, whatever the file says: its start macro sets that."`
	OwnRegisters bool   `group:"The sliced file" about:"Each tool has an E register of its own, as on some machines with several extruders."`
	Volumetric   string `group:"The sliced file" about:"E counts mm3 of filament of this diameter in mm: the machine is set to that." value:"DIAMETER"`
	Member       string `group:"The sliced file" about:"Which file to read in a zip container; else the first one with G-code." value:"NAME"`
}

// given names the first of the flags that is given; blank for none.
func (c *readFlags) given() string {
	switch {
	case c.RelativeE:
		return "--relative-e"
	case c.OwnRegisters:
		return "--own-registers"
	case c.Volumetric != "":
		return "--volumetric"
	case c.Member != "":
		return "--member"
	}
	return ""
}

// options returns how a file is read: by the flags, and with the words of the shop's settings.
func (c *readFlags) options(s *ledger.Settings) (toolpath.Options, error) {
	o := words(s)
	return o, c.apply(&o)
}

// words are what the shop's settings add to section comments.
func words(s *ledger.Settings) toolpath.Options {
	return toolpath.Options{PurgeWords: s.PurgeWords, PrimeWords: s.PrimeWords, SupportWords: s.SupportWords}
}

// apply puts the flags into the options of reading.
func (c *readFlags) apply(o *toolpath.Options) error {
	o.RelativeE, o.OwnRegisters, o.Member = c.RelativeE, c.OwnRegisters, c.Member
	if c.Volumetric == "" {
		return nil
	}
	diameter, err := inventory.TypedNumber(c.Volumetric)
	if err != nil || !diameter.IsPositive() || diameter.Float(0) > 100 {
		return fmt.Errorf("--volumetric %q is no diameter of filament; write millimetres, as 1.75", c.Volumetric)
	}
	o.Volumetric = toolpath.Length(diameter.Float(0) * float64(toolpath.MM))
	return nil
}
