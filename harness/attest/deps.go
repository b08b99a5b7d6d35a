package attest

import (
	_ "github.com/in-toto/attestation/go/v1"
	_ "github.com/secure-systems-lab/go-securesystemslib/dsse"
	_ "golang.org/x/crypto/ssh"
	_ "golang.org/x/mod/sumdb/tlog"
	_ "google.golang.org/protobuf/encoding/protojson"
)
