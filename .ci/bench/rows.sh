#!/usr/bin/env bash
# How fast the reports read big books, and in how much memory: books of 100,000 and 1,000,000 rows of
# consumption, or of the numbers given. RUNS sets the runs of each (5).
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cd "$here/../.."
. "$here/need.sh"
need hyperfine hyperfine
need jq jq
need time time # GNU time: the shell's own word tells no memory

temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
unset TAREBOOK TAREBOOK_SCALE TAREBOOK_PRINTER

if (($# == 0)); then set -- 100000 1000000; fi
CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o "$temp/tarebook" ./cmd/tarebook
run=()
for rows; do
	go run .ci/bench/book.go "$temp/$rows" $((rows / 200)) "$rows"
	for report in stock waste check; do
		run+=(--command-name "$rows $report" "$temp/tarebook --book $temp/$rows $report")
	done
done
hyperfine -N --ignore-failure --warmup 1 --runs "${RUNS:-5}" --style none --export-json "$temp/times.json" "${run[@]}" >"$temp/log" 2>&1 || {
	cat "$temp/log" >&2
	exit 1
}
jq -e 'all(.results[].exit_codes[]; . != null and . <= 1)' "$temp/times.json" >/dev/null || {
	echo "a command failed while it was timed" >&2
	exit 1
}

printf '%9s %6s %9s %11s %8s\n' rows report 'median s' rows/s 'peak MB'
while read -r rows report median; do
	status=0
	"$(type -P time)" --quiet -f %M -o "$temp/memory" "$temp/tarebook" --book "$temp/$rows" "$report" >/dev/null || status=$?
	if ((status > 1)); then
		echo "$report: status $status" >&2
		exit 1
	fi
	awk -v rows="$rows" -v report="$report" -v s="$median" -v kb="$(cat "$temp/memory")" \
		'BEGIN { printf "%9d %6s %9.3f %11d %8.1f\n", rows, report, s, rows / s, kb / 1024 }'
done < <(jq -r '.results[] | "\(.command) \(.median)"' "$temp/times.json")
