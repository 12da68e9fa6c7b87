#!/usr/bin/env bash
# Makes the journal of `tarebook help accountant` by the page's own commands, of the demo book and of random ones, has hledger check it, and
# compares its balances with the program's own stock and waste: the grams to the last digit, money to the minor unit.
# Usage: accountant.sh TAREBOOK BOOK...
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
. "$here/bench/need.sh"
need hledger hledger
need jq jq
binary=$(realpath "$1")
shift
temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
tarebook() { "$binary" "$@" 2>/dev/null || (($? == 1)); } # 1: answered, and something is flagged

cat >"$temp/compare.jq" <<'JQ'
# Prints each figure of the program that a balance differs from. Balances are rows of account, commodity and amount.
def minor: {JPY: 1, KWD: 0.001, BHD: 0.001}[.] // 0.01;
def balance($rows; $accounts; $commodity):
  [$rows[0][] | select(.[1] == $commodity and (.[0] | IN($accounts[]))) | .[2] | tonumber] | add // 0;
def differ($found; $told; $most): select($found - $told | fabs > $most + 0.000001) | "\(.) is \($found) in the journal and \($told) to the program";

($stock[0][] | ["Assets:Stock:\(.spool)"] as $account | .net_g as $net | .value as $value | .currency as $currency | $account[0]
  | differ(balance($grams; $account; "g"); $net; 0),
    if $value == null then empty else differ([balance($cost; $account; $currency), 0] | max; $value; ($currency | minor) / 2) end),
($waste[0].rows | group_by(.key)[] | . as $rows | [$names[0][] | select(.key == $rows[0].key) | .name] as $clients
  | {part: "Part", support: "Waste:Support", prime: "Waste:Prime", purge: "Waste:Purge", scrap: "Waste:Scrap"} | to_entries[]
  | .key as $kind | [.value as $name | "Expenses:\($name):\($clients[])"] as $accounts | "\($kind) of \($rows[0].key)"
  | differ(balance($grams; $accounts; "g"); [$rows[][$kind + "_g"]] | add; 0),
    ($rows[] as $row | differ(balance($cost; $accounts; $row.currency); $row[$kind + "_cost"]; ($row.currency | minor) - 0.000002))),
($waste[0].totals[] | . as $total | [$cost[0][][0] | select(test("^Expenses:(Part|Waste):"))] as $accounts | "all cost"
  | differ(balance($cost; $accounts; $total.currency); $total.part_cost + $total.waste_cost; ($total.currency | minor) / 2))
JQ

balances() { hledger -f "$temp/exact.journal" balance --flat --no-total --layout=bare -O csv "$@" | jq -Rn '[inputs[1:-1] / "\",\""][1:]'; }

compared=0
sed -n '/^  tarebook help accountant |/,/^  hledger .* check/p' "$here/../cmd/tarebook/help/accountant.txt" >"$temp/commands"
grep -q '^  hledger ' "$temp/commands"
for book; do
	export TAREBOOK=$(realpath "$book")
	(cd "$temp" && . ./commands)
	sed 's/^commodity 1000\.00 /commodity 1000.000000000000 /' "$temp/shelf.journal" >"$temp/exact.journal"
	balances >"$temp/grams.json"
	balances --cost >"$temp/cost.json"
	tarebook stock --format json >"$temp/stock.json"
	tarebook waste --format json >"$temp/waste.json"
	# Accounts have names as rows have them: the program says whose each is.
	sed -n 's/^account Expenses:\(Part\|Waste:[A-Z][a-z]*\)://p' "$temp/shelf.journal" | sort -u | while read -r name; do
		key=
		if [[ $name != "no client" ]]; then key=$(tarebook waste --client "$name" --format json | jq -r '.rows[0].key'); fi
		jq -n --arg name "$name" --arg key "$key" '{$name, $key}'
	done | jq -s . >"$temp/names.json"
	jq -nr --slurpfile stock "$temp/stock.json" --slurpfile waste "$temp/waste.json" --slurpfile grams "$temp/grams.json" \
		--slurpfile cost "$temp/cost.json" --slurpfile names "$temp/names.json" -f "$temp/compare.jq" >"$temp/differing"
	if [[ -s $temp/differing ]]; then
		sed "s|^|$book: |" "$temp/differing" >&2
		exit 1
	fi
	compared=$((compared + $(jq length "$temp/grams.json") + $(jq length "$temp/cost.json")))
done
((compared > 0))
echo "$# books, $compared balances, 0 differences"
