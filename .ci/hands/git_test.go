package hands

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// git runs git with none of the person's or the machine's own settings.
func git(t *testing.T, dir string, args ...string) string {
	t.Helper()
	cmd := exec.Command("git", args...)
	cmd.Dir = dir
	cmd.Env = append(cleaned("GIT_"), "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_TERMINAL_PROMPT=0", "LC_ALL=C",
		"GIT_AUTHOR_NAME=bench", "GIT_AUTHOR_EMAIL=bench@example.org", "GIT_COMMITTER_NAME=bench", "GIT_COMMITTER_EMAIL=bench@example.org")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("git %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func commit(t *testing.T, dir, message string) {
	t.Helper()
	git(t, dir, "add", "--all")
	git(t, dir, "commit", "--quiet", "--message", message)
}

// newShelf starts a repository with a book in it, which is not its top folder, and returns both folders.
func newShelf(t *testing.T, p *program, root string) (repository, book string) {
	t.Helper()
	repository = filepath.Join(root, "origin")
	git(t, root, "init", "--quiet", repository)
	book = filepath.Join(repository, "shelf")
	p.must(t, "init", book)
	for name, want := range map[string]string{".gitattributes": "merge=union", ".gitignore": ".tarebook/"} {
		if text, err := os.ReadFile(filepath.Join(book, name)); err != nil || !strings.Contains(string(text), want) {
			t.Errorf("%s %q: %v; want %s in it", name, text, err, want)
		}
	}
	addLine(t, filepath.Join(book, "clients.csv"), "pellam,Pellam puppet stage,1,0,,")
	addLine(t, filepath.Join(book, "clients.csv"), "wendle,Wendle mill,1,0.5,,")
	return repository, book
}

// clone clones a repository and returns the folders of the copy.
func clone(t *testing.T, root, from, to string) (repository, book string) {
	t.Helper()
	repository = filepath.Join(root, to)
	git(t, root, "clone", "--quiet", from, repository)
	return repository, filepath.Join(repository, "shelf")
}

// pull merges another bench's rows, which git must be able to do alone.
func pull(t *testing.T, repository, from string, flags ...string) {
	t.Helper()
	git(t, repository, slices.Concat([]string{"pull", "--quiet"}, flags, []string{from, "HEAD"})...)
	if left := git(t, repository, "status", "--porcelain"); left != "" {
		t.Errorf("after the merge git has still to do: %s", left)
	}
}
