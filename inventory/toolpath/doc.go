// Package toolpath reads a sliced file (G-code) and tells the filament that it uses: by tool, by class (part, support,
// prime, purge) and by layer.
//
// It guarantees: classes add up to a tool's total and layers to the whole, exactly, because lengths are whole billionths
// of a millimetre ([Length]); a file of any size is read once, from front to back, in memory that grows with tools alone
// (and a byte for each change when [Options.Sequence] asks for them); bad input is an [Error] or a [Warning] with its
// line, never a panic. It does not know spools, densities or printers, and what firmware does on its own (macros, homing,
// retraction by G10 and G11) it counts as no use.
//
// The rules, with where they come from. NIST is Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3,
// NISTIR 6556, 2000; "practice" is common practice without a source.
//
//   - Words: a letter and a number, blanks between them optional, either case; N numbers, ( ) comments, a block delete
//     sign (NIST 3.3; an optional line is read). Comments after a semicolon and checksums after * are practice; a checksum
//     is not verified. One line may hold several commands; they are carried out from left to right. A line that begins
//     with no word, such as START_PRINT or prose, says nothing here.
//   - A line of axis words alone repeats the last of G0 to G3 (NIST 3.4, modal groups).
//   - G20 and G21: inches of 25.4 mm, millimetres; a switch converts the registers (NIST 3.5.7). They scale X, Y, Z and E.
//   - G90 and G91 set the mode of X, Y, Z (NIST 3.5.17) and of E; M82 and M83 that of E alone: the last word wins (practice).
//   - G92 gives registers a new reading and moves nothing (NIST 3.5.18); without words all become 0 (practice).
//   - M200 D: E counts mm3 of filament of that diameter in mm, for all tools; D0 ends it; the register keeps its reading
//     (practice).
//   - T picks a tool where it is a command, not a word of another one, as in M104 T1 (practice).
//   - One E register serves all tools; each tool has its own position. What a move uses is the advance of its tool's
//     highest position. A move that uses filament (more than 1e-7 mm, which rounding may leave) is an extrusion; it moves
//     when X or Y change, or when it is an arc with a centre away from its start (a full circle ends where it began).
//   - Class: after a tool change (the first T word is one) or M600, what is extruded at a standstill before the first
//     moving extrusion is purge; else the last section comment decides, see [Options]; else part.
//   - Layers: the first moving extrusion above all earlier ones begins a layer. One whose own Z climbs (a spiral) begins a
//     layer each time Z has climbed by the height of the layer last begun, if there is one. Z is the register's reading
//     where an extrusion ends.
//
// Start at [Read]; [Find] tells where a spool runs out.
package toolpath
