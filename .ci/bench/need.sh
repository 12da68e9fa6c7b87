# need COMMAND PACKAGE [PACKAGE...] installs the Debian packages when the command is missing. To be sourced.
need() {
	local command=$1
	shift
	if type -P "$command" >/dev/null; then return; fi
	if ! type -P apt-get >/dev/null; then
		echo "missing: $command; install it, then try again" >&2
		return 1
	fi
	if [[ -z ${package_lists_fresh:-} ]]; then
		apt-get update -qq
		package_lists_fresh=yes
	fi
	DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}
