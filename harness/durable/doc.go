// Package durable writes files so that they are whole or not there after a
// crash, and gives JSON files a hash of their own text.
//
// # What it promises
//
// A file written by WriteSynced, WriteNew or WriteSecret is on the disk when they
// return, as far as the system tells; its name is after SyncDir of its folder.
// Replace puts a file in another's place in one step (rename(2) of POSIX.1-2017):
// after a crash there is the old one or the new one, and at most a left temporary
// file.
//
// # The hash of its own
//
// A JSON object with the key "self" holds the SHA-256, lower-case hex, of its own
// text with these 64 digits replaced by zeros. Fill sets it, Holds checks it. It
// finds damage; it is no signature, since whoever changes the text can set it anew.
//
// # Not for
//
// It locks nothing unless asked (Lock), and it does not know what the files hold.
package durable
