// Package claim reads what a stranger sends to be certified, and the policy of the
// house that certifies.
package claim
