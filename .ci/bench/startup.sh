#!/usr/bin/env bash
# What a command costs beside a Go program that prints one line, on a book of about 1,000 rows in all.
# Prints medians; fails when a command fails, never for a time. RUNS sets the runs of each (500).
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
go build -trimpath -ldflags='-s -w' -o "$temp/one-line" "$temp/line/main.go"
go build -trimpath -ldflags='-s -w' -o "$temp/tarebook" ./cmd/tarebook
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

hyperfine -N --ignore-failure --warmup 20 --runs "${RUNS:-500}" --style none --export-json "$temp/times.json" "${run[@]}" >"$temp/log" 2>&1 || {
	cat "$temp/log" >&2
	exit 1
}
jq -r '
	def fixed: . * 100 | round | . / 100 | tostring;
	def cell($n): tostring | if length < $n then (" " * ($n - length)) + . else . end;
	.results as $all | $all[0].median as $base
	| (["command", "median ms", "user+sys", "times one-line"] | "\(.[0] | cell(9)) \(.[1] | cell(10)) \(.[2] | cell(9)) \(.[3] | cell(15))"),
	($all[] | "\(.command | cell(9)) \(.median * 1000 | fixed | cell(10)) \((.user + .system) * 1000 | fixed | cell(9)) \(.median / $base | fixed | cell(15))"),
	if any($all[].exit_codes[]; . == null or . > 1) then error("a command failed while it was timed") else empty end
' "$temp/times.json"
