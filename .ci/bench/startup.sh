#!/usr/bin/env bash
# What a command costs beside a Go program that prints one line, on a book of about 1,000 rows in all.
# Prints medians; fails when a command fails, never for a time. ROUNDS times RUNS (20 times 25) sets the runs of each.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cd "$here/../.."
. "$here/need.sh"
need hyperfine hyperfine
need jq jq

temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
unset TAREBOOK TAREBOOK_SCALE TAREBOOK_PRINTER

mkdir "$temp/line"
cat >"$temp/line/main.go" <<'GO'
package main

import "fmt"

func main() { fmt.Println("one line") }
GO
export CGO_ENABLED=0
mkdir "$temp/built"
go build -pgo=auto -trimpath -ldflags='-s -w' -o "$temp/built/one-line" "$temp/line/main.go"
go build -pgo=auto -trimpath -ldflags='-s -w' -o "$temp/built/tarebook" ./cmd/tarebook
# Copied, as a program that was installed: what the linker has just mapped and written lies page by page in the system's cache,
# and each page is found anew at every start. How a copy lies there is luck, up to a tenth of the time, so each round has its own.
copy() { cp --remove-destination "$temp/built/one-line" "$temp/built/tarebook" "$temp"; }
copy
book=$temp/book
go run .ci/bench/book.go "$book" 60 750
echo "rows of the book: $(cat "$book"/*.csv | wc -l)"

names=(one-line version stock check waste)
commands=("$temp/one-line" "$temp/tarebook --version")
for report in stock check waste; do
	commands+=("$temp/tarebook --book $book $report")
done
run=()
for i in "${!names[@]}"; do
	# Status 1 is an answer too: something in it is flagged.
	status=0
	answer=$(${commands[i]}) || status=$?
	if ((status > 1)) || [[ -z $answer ]]; then
		echo "${names[i]}: status $status, ${#answer} characters" >&2
		exit 1
	fi
	run+=(--command-name "${names[i]}" "${commands[i]}")
done

# A few runs of each in turn, many times over: a machine that is busy for a second is then busy for all of them.
for round in $(seq "${ROUNDS:-20}"); do
	copy
	hyperfine -N --ignore-failure --warmup 3 --runs "${RUNS:-25}" --style none --export-json "$temp/$round.json" "${run[@]}" >"$temp/log" 2>&1 || {
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
	| map({command: .[0].command, wall: ([.[].times[]] | median * 1000), cpu: ([.[] | .user + .system] | median * 1000)})
	| .[0].wall as $base
	| (["command", "median ms", "user+sys", "times one-line"] | "\(.[0] | cell(9)) \(.[1] | cell(10)) \(.[2] | cell(9)) \(.[3] | cell(15))"),
	(.[] | "\(.command | cell(9)) \(.wall | fixed | cell(10)) \(.cpu | fixed | cell(9)) \(.wall / $base | fixed | cell(15))")
' "$temp"/*.json
