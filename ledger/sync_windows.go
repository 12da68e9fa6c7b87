package ledger

import "os"

// syncFolder has nothing to do: Windows gives no way to sync a folder, and NTFS journals the name of a new file.
func syncFolder(*os.Root, string) error { return nil }
