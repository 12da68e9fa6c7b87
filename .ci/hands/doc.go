// Package hands holds the built program, named by TAREBOOK_BIN, against what a bench does to it: many hands at one
// book, processes killed at any instant, benches that log apart and merge with git, full disks, books that may only be
// read. It sees the program from outside: its arguments, what it answers, and the files of the book.
//
// HANDS_KILLS (1000) and HANDS_RECORDS (200) say how many kills and how many recordings a process; HANDS_SEED (1)
// chooses the commands.
package hands
