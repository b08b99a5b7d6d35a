// Package attest makes and checks certificates: an in-toto statement in a DSSE
// envelope, signed with Ed25519.
package attest
