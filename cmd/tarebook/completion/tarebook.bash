# Completion of tarebook in bash. In ~/.bashrc: source <(tarebook completion bash)
# The program itself answers. Of several answers the list shows what each one is.
_tarebook() {
	local value about
	local -a values shown
	values=() shown=() COMPREPLY=()
	while IFS=$'\t' read -r value about; do
		if [[ $value == :files || $value == :folders ]]; then return; fi # bash has them by -o default
		values+=("$value")
		shown+=("$value${about:+  ($about)}")
	done < <("${1/#\~/$HOME}" completion line "${COMP_LINE:0:COMP_POINT}" "$2" 2>/dev/null)
	compopt +o default 2>/dev/null # an old bash has no compopt: it then offers files where nothing fits
	if ((${#values[@]} == 0)); then return; fi
	COMPREPLY=("${values[@]}")
	if ((${#values[@]} > 1)) && [[ $COMP_TYPE == 63 ]]; then COMPREPLY=("${shown[@]}"); fi # 63: a list, nothing is typed
	if [[ ${values[0]} == *[=:/,+] ]]; then compopt -o nospace 2>/dev/null; fi
}
complete -o default -F _tarebook tarebook
