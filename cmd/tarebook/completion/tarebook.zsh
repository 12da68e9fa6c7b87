#compdef tarebook
# Completion of tarebook in zsh. In ~/.zshrc, after compinit: source <(tarebook completion zsh)
# or as a file _tarebook in a folder of $fpath. The program itself answers.
_tarebook() {
	local line value
	local -a whole begun
	for line in "${(@f)$("${(Q)~words[1]}" completion words "${(@Q)words[2,CURRENT-1]}" "${(Q)PREFIX}" 2>/dev/null)}"; do
		value=${line%%$'\t'*}
		case $value in
		'') continue ;;
		:files) _files; return ;;
		:folders) _files -/; return ;;
		esac
		line="${value//:/\\:}:${line#*$'\t'}"
		if [[ $value == *[=:/,+] ]]; then begun+=("$line"); else whole+=("$line"); fi
	done
	_describe -V tarebook whole -M 'm:{a-zA-Z}={A-Za-z}' -- begun -S '' -M 'm:{a-zA-Z}={A-Za-z}'
}
if [[ $funcstack[1] == _tarebook ]]; then _tarebook "$@"; else compdef _tarebook tarebook; fi
