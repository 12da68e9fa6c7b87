#!/usr/bin/env bash
# How fast reports read big books beside programs that only add four columns of the same consumption.csv up: mawk and SQLite, and DuckDB
# where npm can install it. Books have 100,000, 1,000,000 and 5,000,000 rows, or the numbers given, and a spool for every 200 of them; lean is
# stock of a book with a spool for every 2,000. RUNS sets the runs of each (5), which take turns. Prints seconds by the clock and of user
# and system, which is about what one core takes, both against mawk on the same rows, and how user and system grow: they go with
# rows to the power of the exponent. Fails when a command fails or the sums differ, never for a time.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cd "$here/../.."
. "$here/need.sh"
need hyperfine hyperfine
need jq jq
need mawk mawk
need sqlite3 sqlite3

temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
unset TAREBOOK TAREBOOK_SCALE TAREBOOK_PRINTER

if (($# == 0)); then set -- 100000 1000000 5000000; fi
CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o "$temp/tarebook" ./cmd/tarebook
columns=(part_g support_g prime_g purge_g)
select="select $(printf 'round(sum(%s), 1), ' "${columns[@]}")" # a field that is blank counts as 0
select=${select%, }

# A quoted note holds commas, but stands behind the columns that are added up.
cat >"$temp/sum.awk" <<'AWK'
NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; a = at["part_g"]; b = at["support_g"]; c = at["prime_g"]; d = at["purge_g"]; next }
{ part += $a; support += $b; prime += $c; purge += $d }
END { printf "%.1f,%.1f,%.1f,%.1f\n", part, support, prime, purge }
AWK
cat >"$temp/mawk" <<SH
#!/bin/sh
exec mawk -F , -f $temp/sum.awk "\$1/consumption.csv"
SH
cat >"$temp/sqlite" <<SH
#!/bin/sh
exec sqlite3 -csv :memory: ".import '\$1/consumption.csv' rows" "$select from rows"
SH
chmod +x "$temp/mawk" "$temp/sqlite"
others=(mawk sqlite)
if type -P npm >/dev/null && type -P node >/dev/null && npm install --silent --no-audit --no-fund --prefix "$temp/npm" @duckdb/node-api >"$temp/log" 2>&1; then
	cat >"$temp/npm/sum.mjs" <<JS
import { DuckDBInstance } from '@duckdb/node-api';
const db = await (await DuckDBInstance.create(':memory:')).connect();
const found = await db.runAndReadAll(\`$select from read_csv('\${process.argv[2]}/consumption.csv')\`);
console.log(found.getRows()[0].map((sum) => sum.toFixed(1)).join(','));
JS
	printf '#!/bin/sh\nexec node %s "$1"\n' "$temp/npm/sum.mjs" >"$temp/duckdb"
	chmod +x "$temp/duckdb"
	others+=(duckdb)
	echo "DuckDB runs in Node.js, whose start is part of its time"
else
	echo "no DuckDB: npm and Node.js are missing, or npm cannot install @duckdb/node-api"
fi

reports=(stock waste check reorder verify)
run=()
for rows; do
	go run .ci/bench/book.go "$temp/$rows" $((rows / 200)) "$rows"
	go run .ci/bench/book.go "$temp/$rows-lean" $((rows / 2000)) "$rows"
	for other in "${others[@]}"; do
		sums=$("$temp/$other" "$temp/$rows" | tr -d '\r')
		[[ -n ${first:=$sums} && $sums == "$first" ]] || {
			echo "$other on $rows rows: $sums, mawk: $first" >&2
			exit 1
		}
		run+=(--command-name "$rows $other" "$temp/$other $temp/$rows")
	done
	first=
	run+=(--command-name "$rows lean" "$temp/tarebook --book $temp/$rows-lean stock --format json")
	for report in "${reports[@]}"; do
		run+=(--command-name "$rows $report" "$temp/tarebook --book $temp/$rows $report --format json")
	done
done
for ((i = 0; i < ${RUNS:-5}; i++)); do
	hyperfine -N --ignore-failure --runs 1 --style none --export-json "$temp/$i.json" "${run[@]}" >"$temp/log" 2>&1 || {
		cat "$temp/log" >&2
		exit 1
	}
done

jq -rs '
	def median: sort | if length % 2 == 1 then .[length / 2 | floor] else (.[length / 2 - 1] + .[length / 2]) / 2 end;
	def fixed: . * 100 | round | . / 100 | tostring;
	def cell($n): tostring | if length < $n then (" " * ($n - length)) + . else . end;
	if any(.[].results[].exit_codes[]; . == null or . > 1) then error("a command failed while it was timed") else . end
	| [.[].results] | transpose
	| map((.[0].command / " ") as [$rows, $what] | {rows: ($rows | tonumber), what: $what, clock: map(.median), cpu: map(.user + .system)})
	| group_by(.rows) as $books
	| def against($all; $one): [[$all, $one] | transpose[] | .[0] / .[1]] | median | fixed;
	("\("rows" | cell(9)) \("what" | cell(8)) \("clock s" | cell(8)) \("times mawk" | cell(11)) \("cpu s" | cell(8)) \("times mawk" | cell(11)) \("exponent" | cell(9))"),
	($books | to_entries[] | .key as $n | .value as $book
		| ($book[] | select(.what == "mawk")) as $mawk
		| $book[] | . as $this
		| (if $n == 0 then "" else ($books[$n - 1][] | select(.what == $this.what)) as $before
			| ((($this.cpu | median) / ($before.cpu | median) | log) / ($this.rows / $before.rows | log)) | fixed end) as $exponent
		| "\(.rows | cell(9)) \(.what | cell(8)) \(.clock | median | fixed | cell(8)) \(against(.clock; $mawk.clock) | cell(11)) \(.cpu | median | fixed | cell(8)) \(against(.cpu; $mawk.cpu) | cell(11)) \($exponent | cell(9))")
' "$temp"/[0-9]*.json
