package display

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// What is written is read back as it was, for every profile there is.
func TestTOMLReadsBack(t *testing.T) {
	all, err := Load("")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		data, err := p.TOML()
		if err != nil {
			t.Fatal(err)
		}
		got, err := Parse(data)
		if err != nil {
			t.Fatalf("%s: %v\n%s", p.Name, err, data)
		}
		if d := cmp.Diff(p, got, cmpopts.EquateApprox(0, 1e-4), cmpopts.IgnoreUnexported(*p)); d != "" { // colours keep four places
			t.Errorf("%s: %s", p.Name, d)
		}
	}
}
