package judge_test

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestJudge(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "judge")
}
