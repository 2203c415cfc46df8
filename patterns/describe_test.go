package patterns

import "testing"

// Numbers in order are written as one says them.
func TestList(t *testing.T) {
	for _, c := range []struct {
		n    []int
		want string
	}{
		{[]int{3}, "3"}, {[]int{3, 4}, "3 and 4"}, {[]int{1, 3, 6}, "1, 3 and 6"},
		{[]int{0, 1, 2, 3, 5, 7}, "0 to 3, 5 and 7"}, {[]int{0, 2, 3, 4}, "0 and 2 to 4"},
	} {
		if got := List(c.n); got != c.want {
			t.Errorf("%v: %q, want %q", c.n, got, c.want)
		}
	}
}

// Every kind has a name of its own, signs and a share of machines, and is found by its name; the shares leave some for machines that are well.
func TestCatalogue(t *testing.T) {
	names, sum := map[string]bool{}, 0.0
	for _, k := range Catalogue() {
		if names[k.Name] || k.Signs == "" || k.Prior <= 0 {
			t.Errorf("%+v", k)
		}
		if KindOf(k.Name).Signs != k.Signs {
			t.Errorf("%s: found as %+v", k.Name, KindOf(k.Name))
		}
		names[k.Name] = true
		if sum += k.Prior; k.Class == Signal && len(k.Tests) == 0 {
			t.Errorf("%s: no tests", k.Name)
		}
	}
	if sum >= 1 {
		t.Errorf("the kinds' shares add up to %.2f", sum)
	}
	if k := KindOf("none such"); k.Class != Undetermined || k.Prior != 0 {
		t.Errorf("a name that is none: %+v", k)
	}
}
