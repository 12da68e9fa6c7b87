# Completion of tarebook in fish. Once: tarebook completion fish > ~/.config/fish/completions/tarebook.fish
# The program itself answers.
function __tarebook_answers
	set -l typed (commandline -opc)
	set -l current (string unescape -- (commandline -ct))
	set -l answers ($typed[1] completion words $typed[2..-1] "$current" 2>/dev/null)
	switch "$answers[1]"
		case ':files' ':folders'
			set -l flag (string match -r -- '^--[a-z-]+=' "$current")
			set -l rest (string replace -r -- '^--[a-z-]+=' '' "$current")
			for path in (__fish_complete_path "$rest")
				echo -- "$flag$path"
			end
		case '*'
			printf '%s\n' $answers
	end
end
complete -c tarebook -f -a '(__tarebook_answers)'
