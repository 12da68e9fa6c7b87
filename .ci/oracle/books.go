package oracle

import "os"

// WriteBook makes the random book of a seed in a new folder, for checks elsewhere that need books of people's habits.
func WriteBook(dir string, seed uint64) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	_, err := writeRandomBook(dir, seed)
	return err
}
