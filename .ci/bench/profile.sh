#!/usr/bin/env bash
# Makes the profile anew by which go build and go install lay the program out: where the time of the commands goes
# that are typed most. It is worth a run after the way that files are read has changed.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
export CGO_ENABLED=0
go test -c -trimpath -o "$temp/test" ./cmd/tarebook
(cd cmd/tarebook && "$temp/test" -test.run '^$' -test.bench 'Start$' -test.benchtime 20s -test.cpuprofile "$temp/profile")
# The profile names the program that it is of, which is of no use to anybody else.
gzip -dc "$temp/profile" | LC_ALL=C sed "s#$temp/test#$(sed 's/./-/g' <<<"$temp/test")#g" | gzip -9n >cmd/tarebook/default.pgo
