// Package toolpath reads a sliced file (G-code) and reports how much filament it uses: by tool, by class (part, support,
// prime, purge) and by layer. It also reports where each tool lays filament, and what in the file is doubtful.
//
// It guarantees:
//
//   - The classes of a tool add up to its total, and layers to the whole, exactly: a [Length] counts billionths of a millimetre.
//   - A file of any size is read once, from front to back. Memory grows with the number of tools alone. Two options need more:
//     [Options.Layer] keeps layers x tools where the file does not number its layers, [Options.Sequence] a byte for each change.
//   - Bad input is an [Error] with its line, never a panic. A [Note] never changes a figure.
//
// It knows no spools, densities or printers. What firmware does on its own (macros, homing, retraction by G10 and G11) counts
// as no use, because the file does not say how much that is.
//
// Start at [Read]. [Find] returns where spools run out or hand over to one another.
//
// The rules follow, with source and reason. "NIST" is Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3, NISTIR
// 6556, 2000. "Practice" is common practice, no source.
//
// # Words and lines
//
//   - A word is a letter and a number, in either case, with optional blanks between them. N numbers, comments in ( ) and a block
//     delete sign are read as NIST 3.3 has them; a line with that sign is carried out. Comments after a semicolon, and checksums
//     after *, are practice. Checksums are not verified: they guard a cable, and files from a disk hold few.
//   - One line may hold several commands. They are carried out from left to right.
//   - A line of axis words alone repeats the last of G0 to G3 (NIST 3.4, modal groups).
//   - A line that does not begin with a word, such as START_PRINT or prose, is skipped: it is for the firmware or for people.
//   - A number that can't be read is an error only where a figure depends on it: X, Y, Z and E of a move or of G92, I, J and R
//     of an arc, T, and S and T of M221. Anything else is a note, because files hold placeholders and decimal commas in feed
//     rates, and machines print them all the same.
//   - A number may have an exponent with a sign, after the letter E itself (E1.5e-05) or in lower case after an upper-case letter
//     (X1e-05): scripts that rewrite files write such numbers. In X1E-3 the E begins a word of its own.
//
// # State of the machine
//
//   - G20 and G21 choose inches (25.4 mm) or millimetres for X, Y, Z, E, I, J and R. A switch converts the registers (NIST 3.5.7).
//   - G90 and G91 make X, Y and Z absolute or relative (NIST 3.5.17). E is relative from M83 to M82, and from G91 to G90
//     (practice). G90 does not end M83, because files set M83 once and then use G91 and G90 for a hop.
//   - G92 gives registers a new reading and moves nothing (NIST 3.5.18). Without words it sets all to 0 (practice). G28 sets the
//     axes that it names to 0, or X, Y and Z if it names none.
//   - M200 D makes E count mm3 of filament of that diameter in mm, for all tools, until M200 D0. The register keeps its reading
//     (practice).
//   - M221 S scales what later E words take to S percent, for the tool that its T word names, or the tool in use. Filament
//     drawn back before M221 and returned after it is scaled by the new factor, as the machine does it.
//   - T picks a tool where it is a command of its own. In M104 T1 it is a word of another command (practice). T255 and above, and
//     a negative T, set other states of a machine: the tool in use stays, and a note says so. Refusing them would refuse
//     many files that print well.
//
// # Use and classes
//
//   - All tools share one E register, but each tool has its own position. A move uses what it adds to the highest position its
//     tool has reached. So a retraction and its return use nothing.
//   - A move that uses more than 1e-7 mm is an extrusion; rounding may leave less than that after a return. An extrusion is moving if
//     X or Y change, or if it is an arc whose centre is not its start, since a full circle ends where it began.
//   - After a tool change (the first T word counts as one) or M600, extrusions at a standstill are purge until the first moving one,
//     because that is how files flush. Otherwise the last section comment decides: see [Options] and section.go. Before the
//     first section comment it is part.
//   - A section comment after a command holds from the next line, because it describes what follows.
//
// # Layers
//
//   - Layers are counted as the file counts them, because Z misleads: a purge line or priming high up would shift or swallow layers.
//     A comment whose first word is "layer", followed by a whole number, begins a layer, unless the number is that of the layer
//     before. In a file without such comments, the comment "layer change" does. What comes before the first belongs to layer 1.
//   - One numbered comment outweighs all layer changes, even a stray one: how often each kind appears does not show which kind
//     the file means, and a fixed order gives the same answer for every reader.
//   - In a file with neither, "layer num: 12", "layer number: 12" and "layer num/TOTAL: 12/150" count as numbers do. The rule
//     above does not name them. Counting by Z gives nearly the same for such files, but their own count is also right where they prime
//     high up. Files with the comments named above are not affected.
//   - Only in a file with none of these does Z begin layers: at the first moving extrusion above all earlier ones. An extrusion that
//     itself climbs is part of a spiral, which would begin a layer at every move. It begins one each time Z has climbed by
//     the height of the layer begun last, if that has a height.
//
// # Boxes
//
//   - The box of a tool encloses both ends of its moving extrusions of part and support, and what arcs reach between their ends. It
//     is in machine coordinates, since it is compared with what a nozzle reaches: G92 shifts the register, not the machine.
//   - What comes before the first section comment is left out, as it is priming beside the print. After a section comment whose
//     words do not say prime it counts.
//   - Arcs are read in the XY plane only; in another plane only their ends count. Centre and radius are those of the start, because
//     rounding may put the end beside the circle. I and J go before R. A radius below 0 means the greater arc; a radius that
//     is too short counts as half the chord.
//
// # What the file says of itself
//
// A comment that states a total of filament (stated.go) is compared with what was read. What was laid before the first layer
// may be in that total or not, since some files count it and some don't. If they are more than 5 % apart, a note gives both figures and the
// likely cause. [NoteKind] lists the other notes. Each names the option that reads the file as it may be meant.
//
// # Containers
//
// gzip (RFC 1952), a member of a zip container, and blocks of binary G-code with DEFLATE, heatshrink and packed text are read
// as streams. A second goroutine decodes up to three blocks of 128 KB ahead; it has ended when [Read] returns. No memory is
// reserved on the strength of a size that the file claims.
package toolpath
