#!/usr/bin/env bash
# How fast a sliced file of 100 MB is read beside mawk summing E by tool over the same file, and beside the same text in a
# zip container and in binary blocks; and in how much memory one of 1,000 MB; or files of the two sizes given, in MB. All
# are timed in one run, and their sums are compared. RUNS sets the runs of each (10). Prints figures; fails when a command fails or the sums differ, never for a time.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
cd "$here/../.."
. "$here/need.sh"
need hyperfine hyperfine
need jq jq
need mawk mawk
need time time # GNU time: the shell's own word tells no memory

temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT

unset TAREBOOK TAREBOOK_SCALE TAREBOOK_PRINTER
small=${1:-100} large=${2:-1000}
export CGO_ENABLED=0
go build -o "$temp/gcode" .ci/bench/gcode.go
go build -trimpath -ldflags='-s -w' -o "$temp/tarebook" ./cmd/tarebook
cd "$temp" # where no book is
"$temp/gcode" "$small" >"$temp/small.gcode"
"$temp/gcode" "$small" zip >"$temp/small.zip"
"$temp/gcode" "$small" blocks >"$temp/small.blocks"

# The generated file is relative, and each retraction is returned, so the plain sum is the filament used. words looks at
# every word, as a reader must; index looks for an E anywhere, which a comment or a name with an E would lead astray.
cat >"$temp/words" <<'AWK'
/^T[0-9]/ { tool = substr($1, 2) + 0; next }
/^G[0-3] / { for (i = 2; i <= NF; i++) if (substr($i, 1, 1) == "E") used[tool] += substr($i, 2) }
END { for (tool in used) printf "T%d %.5f\n", tool, used[tool] }
AWK
cat >"$temp/index" <<'AWK'
/^G/ { e = index($0, "E"); if (e) used[tool] += substr($0, e + 1); next }
/^T/ { tool = substr($0, 2) }
END { for (tool in used) printf "T%d %.5f\n", tool, used[tool] }
AWK

sums() { awk '/^T/ { print $1, $2 }' | sort; }
used() { "$temp/tarebook" toolpath "$1" --format csv | awk -F , 'NR > 1 { printf "T%d %.5f\n", $2, $7 }' | sums; }
used "$temp/small.gcode" >"$temp/ours"
for form in zip blocks; do
	used "$temp/small.$form" | diff "$temp/ours" - || {
		echo "the sums of $form differ" >&2
		exit 1
	}
done
for script in words index; do
	mawk -f "$temp/$script" "$temp/small.gcode" | sums | diff "$temp/ours" - || {
		echo "the sums differ" >&2
		exit 1
	}
done

hyperfine -N --warmup 1 --runs "${RUNS:-10}" --style none --export-json "$temp/times.json" \
	--command-name toolpath "$temp/tarebook toolpath $temp/small.gcode" \
	--command-name 'of zip' "$temp/tarebook toolpath $temp/small.zip" \
	--command-name 'of blocks' "$temp/tarebook toolpath $temp/small.blocks" \
	--command-name 'mawk words' "mawk -f $temp/words $temp/small.gcode" \
	--command-name 'mawk index' "mawk -f $temp/index $temp/small.gcode" >"$temp/log" 2>&1 || {
	cat "$temp/log" >&2
	exit 1
}
printf '%10s %9s %9s %7s %15s\n' command 'median s' 'least s' MB/s 'times toolpath'
jq -r '.results[0].median as $ours | .results[] | [.command, .median, .min, .median / $ours] | @tsv' "$temp/times.json" |
	awk -F '\t' -v bytes="$(stat -c %s "$temp/small.gcode")" '{ printf "%10s %9.3f %9.3f %7.0f %15.2f\n", $1, $2, $3, bytes / $2 / 1e6, $4 }'
rm "$temp/small".*

"$temp/gcode" "$large" >"$temp/large.gcode"
"$(type -P time)" --quiet -f %M -o "$temp/memory" "$temp/tarebook" toolpath "$temp/large.gcode" >/dev/null
awk -v mb="$large" '{ printf "peak memory on %d MB: %.1f MB\n", mb, $1 / 1024 }' "$temp/memory"
gzip -1 -c "$temp/large.gcode" >"$temp/large.gcode.gz"
rm "$temp/large.gcode"
"$(type -P time)" --quiet -f '%M %e' -o "$temp/memory" "$temp/tarebook" toolpath "$temp/large.gcode.gz" >/dev/null
awk '{ printf "the same by gzip: %.1f MB, %.1f s\n", $1 / 1024, $2 }' "$temp/memory"
