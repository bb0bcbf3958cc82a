// Package journal keeps the events of a session on disk, so that nothing that
// was measured is lost when the program is killed or the power goes, and the
// session goes on where it was.
//
// Start with [Create] for a new run, [Resume] after a run that was cut short,
// and [Writer.Append] for each event before it is given to [session.Step].
// Whoever owns the writer runs [Writer.Run] in a goroutine of its own: it puts
// what was appended on disk, often enough that a second is all that can be lost.
//
// # Form of the file
//
// A file is one run: eight bytes of [magic], then records:
//
//	length   uint32, little-endian: of kind and body
//	check    uint32, little-endian: CRC-32C of kind and body
//	kind     one byte
//	body     JSON, or, of samples and of passing time, as codec.go says
//
// A record that is cut off or does not check ends the file: what follows is a
// torn tail. It is cut before the file is written to again, said in the event
// [session.Resumed], and kept beside the file.
package journal
