// Package recordbook keeps the certificates of a house in an append-only book.
// Whoever kept one signed tree head of it can find out later that anything before
// was changed, removed or moved, without trusting the house.
//
// # The folder
//
//	BOOK/house.pub               the key of the house
//	BOOK/entries/00000000.json   entry 0: the exact bytes of a DSSE envelope
//	BOOK/entries/00000001.json   entry 1, and so on
//	BOOK/hashes                  the hashes of the tree
//	BOOK/heads/00000000.head     the signed tree head of the empty book
//	BOOK/heads/00000001.head     the head when there was one entry, and so on
//
// Numbers have eight digits. Nothing else may lie in the folder but what an
// interrupted append leaves (below). No file is changed once it is written;
// hashes only grows. A book needs these files alone: it may be copied, packed and
// published as it is.
//
// house.pub is the Ed25519 public key as PEM SubjectPublicKeyInfo (RFC 7468, RFC
// 8410). It signs the heads and every certificate of the book, and cannot be
// exchanged: another key begins another book.
//
// # The tree
//
// The tree is that of RFC 6962, section 2.1, with SHA-256; golang.org/x/mod/sumdb/tlog
// computes it. The leaf hash of an entry is
//
//	SHA-256(0x00 || the bytes of the envelope)
//
// and a node is SHA-256(0x01 || left || right). hashes has 32 bytes of each leaf
// and of each node of a whole subtree, in the order of tlog.StoredHashIndex: after
// the leaf of entry i come the nodes that it completes, the lowest first. With n
// entries there are tlog.StoredHashCount(n) of them. They follow from the entries,
// and are kept so that both are held against one another.
//
// # A tree head
//
// A signed note (golang.org/x/mod/sumdb/note) whose text is a checkpoint of three
// lines; each line ends with LF:
//
//	latchproof.invalid/records/HOUSE
//	SIZE
//	ROOT
//	(an empty line)
//	— latchproof.invalid/records/HOUSE SIGNATURE
//
// The first line is the origin: HOUSE is the name of the house with everything
// but unreserved characters percent-encoded as in RFC 3986. It leads nowhere on
// purpose (RFC 6761 reserves .invalid). SIZE is the number of entries, decimal
// without leading zeros; ROOT the root hash, base64 with padding. SIGNATURE is
// base64 of four bytes of key hash and the Ed25519 signature of the three lines
// with their line ends. The key hash is the beginning of
// SHA-256(origin || LF || 0x01 || the 32 bytes of the public key). There is exactly
// one signature, and no other way to write a head: every other byte is refused.
//
// Each size has one head, as Ed25519 signatures hang on key and text alone (RFC
// 8032). A house that wants to be held to its book publishes the newest file of
// heads after each append, where it cannot take it back.
//
// # Proofs
//
// JSON, indented by two spaces, keys in this order, LF at the end; hashes are
// lower-case hex. Any other way to write the same is refused.
//
//	{
//	  "proof": "inclusion",       that entry "index" is in the book of "head"
//	  "version": 1,
//	  "index": 5,                 from 0
//	  "leaf": "…",                leaf hash of the entry
//	  "path": ["…"],              RFC 6962, section 2.1.1, from the leaf up
//	  "head": "…"                 the text of a head
//	}
//	{
//	  "proof": "growth",          that the book of "new" begins with that of "old"
//	  "version": 1,
//	  "path": ["…"],              RFC 6962, section 2.1.2
//	  "old": "…",                 the text of a head
//	  "new": "…"                  the text of a head of no fewer entries
//	}
//
// From the empty book every book has grown: then the path is empty.
//
// # What survives what
//
// An append writes, and brings to the disk (fsync) before the next step:
//
//  1. the entry, as .entry.tmp;
//  2. its name in entries, by rename(2), and that folder;
//  3. its hashes, at the end of hashes;
//  4. the head, as .head.tmp;
//  5. its name in heads, by rename(2), and that folder.
//
// Then Append returns. The newest head says what the book is: before step 5 the
// book is the one before, after it the one with the entry. Who reads a book needs
// no lock for that reason. What was interrupted is put in order by the next
// OpenToAppend, and told (Book.Notes): a temporary file is removed; an entry that
// has its name is never taken back, but finished by steps 2 to 5. A head that
// somebody saw just before a loss of power is therefore made again with the same
// bytes. An Append that failed on the way from step 2 on says so (ErrUnfinished).
//
// One process at a time may append (flock on hashes, where there is one).
//
// # What is checked
//
// Open, OpenToAppend and Book.Check read everything: that each certificate is
// signed by the house, each hash follows from the entries and hashes below it, each
// head is signed and has the root of its size, and nothing is missing, twice or
// foreign. So every changed byte is found, with its place. What a head that was
// kept elsewhere adds: a house can make a whole other book with its key, but not
// one that has grown from that head.
//
// Limits: an envelope has at most 8 MiB, a head 4 KiB, a book a million entries. Links
// and devices in the folder are refused.
//
// # Order
//
// The best of a category has the fewest frames; of equal ones the earlier entry
// keeps the place.
//
// # Not for
//
// The package does not judge whether a certificate is right; harness/verify does.
// Opening takes one signature and one hash for each entry, and some hundred bytes
// of memory: it is made for thousands of entries, not for millions.
package recordbook
