// Package toolpath reads a sliced file (G-code) and reports the filament that it uses: by tool, by class (part, support,
// prime, purge) and by layer, where each tool lays it, and what in the file leaves a doubt.
//
// It guarantees: classes add up to a tool's total and layers to the whole, exactly, because lengths are whole billionths
// of a millimetre ([Length]); a file of any size is read once, from front to back, in memory that grows with tools alone
// (with layers x tools when [Options.Layer] asks for layers that the file does not number; a byte for each change when
// [Options.Sequence] asks for them); bad input is an [Error] with its line, never a panic; a [Note] never changes a figure.
// It does not know spools, densities or printers, and what firmware does on its own (macros, homing, retraction by G10 and
// G11) it counts as no use.
//
// The rules, with where they come from. NIST is Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3,
// NISTIR 6556, 2000; "practice" is common practice without a source.
//
// Words and lines:
//
//   - Words are a letter and a number, blanks between them optional, either case; N numbers, ( ) comments, a block delete
//     sign (NIST 3.3; an optional line is read). Comments after a semicolon and checksums after * are practice; a checksum
//     is not verified. One line may hold several commands; they are carried out from left to right. A line that begins
//     with no word, such as START_PRINT or prose, says nothing here.
//   - A line of axis words alone repeats the last of G0 to G3 (NIST 3.4, modal groups).
//   - A bad number is an error where the figure rests on it: X, Y, Z and E of a move or G92, I, J and R of an arc, T, and S
//     and T of M221. Anything else that can't be read is a note: files hold placeholders and decimal commas in feed rates,
//     and machines print them.
//   - A number may have an exponent with a sign behind the letter E itself, or in lower case behind an upper-case letter;
//     in X1E-3 the E begins a word. Scripts that rewrite files leave such numbers.
//
// State:
//
//   - G20 and G21: inches of 25.4 mm, millimetres; a switch converts the registers (NIST 3.5.7). They scale X, Y, Z, E, I, J, R.
//   - G90 and G91 set the mode of X, Y, Z (NIST 3.5.17). E is relative under M83, until M82, and under G91, until G90
//     (practice). G90 leaves M83 alone: files set M83 once, and use G91 and G90 for a hop.
//   - G92 gives registers a new reading and moves nothing (NIST 3.5.18); without words all become 0 (practice). G28 puts the
//     axes that it names, or all of X, Y and Z, to 0.
//   - M200 D: E counts mm3 of filament of that diameter in mm, for all tools; D0 ends it; the register keeps its reading
//     (practice).
//   - M221 S: from then on E words of its tool, T or the one in use, take S percent; a return at another factor counts by that.
//   - T picks a tool where it is a command, not a word of another one, as in M104 T1 (practice). T255 and above and negative T
//     are states of a machine: the tool stays, and a note says so.
//
// Use and class:
//
//   - One E register serves all tools; each tool has its own position. What a move uses is the advance of its tool's
//     highest position, so a retraction and its return are no use. A move that uses filament (more than 1e-7 mm, which
//     rounding may leave) is an extrusion; it moves when X or Y change, or when it is an arc with a centre away from its
//     start (a full circle ends where it began).
//   - After a tool change (the first T word is one) or M600, what is extruded at a standstill before the first moving
//     extrusion is purge; else the last section comment decides, see [Options] and section.go; else it is part.
//   - A section comment after a command holds from the next line, since it is said of what follows.
//
// Layers and boxes:
//
//   - Layers are counted as the file counts them: a comment whose first word is layer, with a whole number right behind it, begins
//     one unless the number is that of the one before; in a file without such, the comment layer change. What comes before the
//     first belongs to layer 1, so a line of priming or a purge high up shifts no layer. One stray number outweighs all layer
//     changes: which comments a file means cannot be told from how often they stand.
//   - In a file with neither, the comments layer num: 12, layer number: 12 and layer num/TOTAL: 12/150 count as numbers do. The
//     rule above does not name them, and by Z such files give nearly the same; but their own count is these comments' one, also
//     where they prime high up, and a file that has the comments named above is not touched by them.
//   - Only in a file with none, Z begins layers: at the first moving extrusion above all earlier ones. One whose own Z
//     climbs (a spiral) begins a layer each time Z has climbed by the height of the layer last begun, if there is one.
//   - The box of a tool holds both ends of its moving extrusions of part and support, and what arcs reach between them, in the
//     machine's coordinates: G92 shifts the register, not the machine. What comes before the first section comment is left
//     out, since it is priming beside the print; behind a section comment whose words say nothing of priming it counts. Arcs are those of the XY plane; centre and radius are those of the start; I
//     and J go before R; a radius below 0 is the greater arc, one too short half the chord.
//
// What the file says of itself: comments that state a total of filament (stated.go) are compared with what was read, what
// lies before the first layer counted or not; more than 5 % apart is a note with both figures and the likely cause. Other notes
// are listed at [NoteKind]. Each names the option that reads the file as it may be meant.
//
// Containers are read as streams: gzip (RFC 1952), a member of a zip container, blocks of binary G-code with DEFLATE or
// heatshrink, and packed text. A claim of size allocates nothing.
//
// Start at [Read]; [Find] tells where a spool runs out, [FindAll] where several hand over.
package toolpath
