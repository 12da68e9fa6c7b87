#!/usr/bin/env bash
# Follows the README word by word in a fresh clone, in a terminal of 80 columns, with nothing installed but Go and git: every command of its
# blocks is carried out in order, but for go test, and the line of the crontab. Fails where one is not carried out.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
. "$root/.ci/bench/need.sh"
need git git
need script bsdutils
temp=$(mktemp -d)
trap 'chmod -R u+w "$temp" && rm -rf "$temp"' EXIT
home=$temp/home
mkdir "$home"
git clone -q "$root" "$home/tarebook"

# A line of a console block may end with status 1, which is an answer; the lines of a sh block stand for themselves.
awk '
	/^```/ { block = (block == "") ? substr($0, 4) : ""; next }
	block == "sh" && !/^go test / { print; if (/go install/) { printf "%s", first; installed = 1 } }
	block == "console" && !installed { if (sub(/^\$ /, "")) first = first $0 " || (($? == 1))\n"; next } # the picture at the top
	block == "console" && more { more = /\\$/; printf "%s%s\n", $0, more ? "" : " || (($? == 1))" }
	block == "console" && /^\$ / { more = /\\$/; printf "%s%s\n", substr($0, 3), more ? "" : " || (($? == 1))"; commands++ }
	block == "crontab" { print > crontab }
	END { if (!commands) exit 1 }
' crontab="$temp/crontab" "$home/tarebook/README.md" >"$temp/commands"
cut -d ' ' -f 6- "$temp/crontab" >"$temp/morning"
[[ -s $temp/morning ]] || { echo "the README shows no crontab" >&2; exit 1; }

{
	echo 'set -euo pipefail; stty cols 80; cd ~/tarebook'
	cat "$temp/commands"
	# The morning check speaks of the short job, and is silent without one.
	cat <<END
export PATH HOME
sh "$temp/morning" | grep -q town-gate
cd ~/shelf
tarebook queue drop town-gate
[[ -z \$(sh "$temp/morning") ]]
# The script for the slicer, with a printer of the demo book, says that a spool is short, and that there is no file.
sed -i 's/--printer SHARED/--printer WINDOW/' "$home/lasts.sh"
cp -r ~/tarebook/samples/demo "$temp/demo"
status=0; HOME=$temp/asked; mkdir "\$HOME"; cp -r "$temp/demo" "\$HOME/shelf"
"$home/lasts.sh" "\$HOME/shelf/branch-owl.gcode" || status=\$?
((status == 1))
status=0; "$home/lasts.sh" nothing.gcode || status=\$?
((status == 2))
echo followed to its end
END
} >"$temp/steps"
cat >"$temp/clean" <<END
exec env -i HOME="$home" CGO_ENABLED=0 TERM=dumb LC_ALL=C.UTF-8 TMPDIR="$temp" GOFLAGS="-trimpath ${GOFLAGS:-}" GOCACHE="$(go env GOCACHE)" GOMODCACHE="$(go env GOMODCACHE)" \
	GOPROXY="$(go env GOPROXY)" GOBIN="$home/go/bin" GIT_AUTHOR_NAME=A GIT_AUTHOR_EMAIL=a@example.org GIT_COMMITTER_NAME=A GIT_COMMITTER_EMAIL=a@example.org \
	PATH="$home/go/bin:$(go env GOROOT)/bin:/usr/bin:/bin" bash "$temp/steps"
END
script -qec "bash $temp/clean" /dev/null >"$temp/log" 2>&1 </dev/null || {
	cat "$temp/log" >&2
	echo "the README can't be followed" >&2
	exit 1
}
grep -q 'followed to its end' "$temp/log" || { cat "$temp/log" >&2; exit 1; }
echo "$(grep -c . "$temp/commands") lines followed"
