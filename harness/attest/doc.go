// Package attest makes and checks certificates: an in-toto statement about the files
// of an evidence bundle, in a DSSE envelope, signed with Ed25519.
//
// # The certificate
//
// A certificate is one JSON text, the envelope of DSSE (secure-systems-lab, DSSE
// Protocol 1.0.2), without a final newline:
//
//	payload        base64 (RFC 4648, section 4) of the statement
//	payloadType    application/vnd.in-toto+json
//	signatures     one: keyid, KeyID of the key; sig, base64 of the 64 bytes
//
// What is signed is DSSE's pre-authentication encoding of type and payload. The
// statement is an in-toto Statement v1:
//
//	_type          https://in-toto.io/Statement/v1
//	subject        the files, in the order of their names: name, digest.sha256
//	predicateType  https://latchproof.invalid/certificate/v1
//	predicate      a Predicate; its JSON Schema is certificate.schema.json
//
// # One form
//
// Both texts are in the form of the JSON Canonicalization Scheme, RFC 8785: no white
// space, keys in the order of their UTF-16 code units, one spelling of every string
// and number. The statement is written by in-toto's own types and protojson, which
// spaces its output at random on purpose, and brought to that form afterwards; numbers
// that a double does not hold exactly are refused before. Signatures of Ed25519 have
// no chance in them. So the same key, files and predicate give the same bytes.
//
// Open takes that one form alone: it writes what it read again and holds the bytes
// against those that it was given. Any changed byte is refused, also one that a
// lenient reader would not see, such as white space, a key twice or in other letters,
// spare bits of base64, a keyid, or a second signature. So nobody can make a second
// certificate out of one, and its hash in a record book names it.
//
// # Keys
//
// NewKey writes the private key in OpenSSH's form (PROTOCOL.key of OpenSSH 9) by
// golang.org/x/crypto/ssh, encrypted by aes256-ctr with a key from bcrypt_pbkdf (16
// rounds) when there is a passphrase, mode 0600, and FILE.pub with the public key,
// PEM of SubjectPublicKeyInfo (RFC 8410), which any tool reads. LoadKey refuses a file
// that others can read. A Key cannot be printed.
//
// A signature holds by crypto/ed25519's rules: S must be below the order of the group
// (RFC 8032, section 5.1.7), so a signature cannot be altered into another one; the
// equation is checked without the cofactor.
//
// A certificate carries its public key, so that it can be checked with nothing else at
// hand. That says that nothing was changed since it was signed, and not by whom: who
// wants to know must have the key from elsewhere and give it to Open.
//
// # Not for
//
// Open does not look at the files, and does not judge what they show: harness/bundle
// reads the archive, harness/verify does both. There is no revocation and no trusted
// time: Certified is by the maker's clock.
package attest
