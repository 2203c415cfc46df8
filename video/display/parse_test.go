package display

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func embeddedText(t testing.TB, name string) string {
	t.Helper()
	data, err := embedded.ReadFile("profiles/" + name + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// Each case spoils one key of a good profile; the error must name it.
func TestParseNamesTheKey(t *testing.T) {
	for _, c := range []struct{ profile, old, spoiled, says string }{
		{"attr-256x192-50", `"attr-256x192-50"`, `"two words"`, "name"},
		{"attr-256x192-50", `"attr-256x192-50"`, `""`, "name"},
		{"attr-256x192-50", `kind = "attr"`, `kind = "vector"`, "kind"},
		{"attr-256x192-50", `"625/50"`, `"819/50"`, "standard"},
		{"attr-256x192-50", "pixel_clock_hz = 7000000", "pixel_clock_hz = 70", "pixel_clock_hz"},
		{"attr-256x192-50", "pixel_clock_hz = 7000000", "pixel_clock_hz = nan", "pixel_clock_hz"},
		{"attr-256x192-50", "pixel_clock_hz = 7000000", "pixel_clock_hz = 8000000", "lines a second"},
		{"attr-256x192-50", "line_pixels = 448", "line_pixels = 0", "line_pixels"},
		{"attr-256x192-50", "field_lines = 312", "field_lines = 625", "field_lines"},
		{"attr-256x192-50", "width = 256", "width = 250", "width"},
		{"attr-256x192-50", "width = 256", "width = 512", "line_pixels"},
		{"attr-256x192-50", "height = 192", "height = -8", "height"},
		{"attr-256x192-50", "border_left = 48", "border_left = -1", "border_left"},
		{"attr-256x192-50", "border_right = 48", "border_right = 513", "border_right"},
		{"attr-256x192-50", "border_top = 48", "border_top = 200", "field_lines"},
		{"attr-256x192-50", "border_bottom = 48", "border_bottom = 9000", "border_bottom"},
		{"attr-256x192-50", "normal_level = 0.85", "normal_level = 1.5", "normal_level"},
		{"attr-256x192-50", "normal_level = 0.85", "", "normal_level"},
		{"attr-256x192-50", `"y7"`, `"x7"`, "memory.bitmap"},
		{"attr-256x192-50", `"y7"`, `"y+7"`, "memory.bitmap"},
		{"attr-256x192-50", `"y7"`, `""`, "memory.bitmap"},
		{"attr-256x192-50", `"y7", `, ``, "y7 is missing"},
		{"attr-256x192-50", `"c0"`, `"c1"`, "stands twice"},
		{"attr-256x192-50", "colour_base = 6144", "colour_base = 6143", "memory.colour_base"},
		{"attr-256x192-50", "row_bits = 7", "row_bits = 5", "do not fit"},
		{"attr-256x192-50", "row_bits = 7", "row_bits = -20", "memory.row_bits"},
		{"attr-256x192-50", "column_bits = 7", "column_bits = 13", "memory.column_bits"},
		{"attr-256x192-50", "[memory]", "colour = 3\n[memory]", `unknown key "colour"`},
		{"attr-256x192-50", "width = 256", "width = ", "line "},
		{"attr-256x192-50", "width = 256", "width = \"wide\"", "line "},
		{"text-40x25-50", `kind = "text"`, "kind = \"text\"\nnormal_level = 0.5", "normal_level"},
		{"text-40x25-50", "row_bits = 7", "row_bits = 2", "do not fit"},
		{"text-40x25-50", "column_bits = 7", "column_bits = 7\ncolour_base = 4", "memory.colour_base"},
		{"text-40x25-50", `name = "light magenta"`, `name = ""`, "colours, number 15"},
		{"text-40x25-50", "luma = 0.33", "luma = 1.33", "colours, dark grey: luma"},
		{"text-40x25-50", "angle = 103.48", "angle = 463.48", "colours, red: angle"},
		{"text-40x25-50", "chroma = 0.20", "chroma = 2.0", "colours, red: chroma"},
		{"text-40x25-50", "[[colours]]\nname = \"black\"\nluma = 0.0\nchroma = 0.0\nangle = 0.0", "", "15 given"},
	} {
		good := embeddedText(t, c.profile)
		if !strings.Contains(good, c.old) {
			t.Errorf("%s has no %q", c.profile, c.old)
			continue
		}
		_, err := Parse([]byte(strings.Replace(good, c.old, c.spoiled, 1)))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: error %v does not say %q", c.spoiled, err, c.says)
		}
	}
}

func TestLoadUserFolder(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "displays [bench]")
	if all, err := Load(folder); err != nil || len(all) != 4 {
		t.Errorf("a folder that is not there: %d profiles, %v", len(all), err)
	}
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	good := embeddedText(t, "attr-256x192-50")
	write("dimmer.toml", strings.Replace(good, "0.85", "0.70", 1))
	write("own.toml", strings.Replace(good, `"attr-256x192-50"`, `"attr-own"`, 1))
	write("notes.txt", "not a profile")
	all, err := Load(folder)
	if err != nil || len(all) != 5 {
		t.Fatalf("%d profiles, %v", len(all), err)
	}
	if p, err := Find(all, "attr-256x192-50"); err != nil || p.NormalLevel != 0.70 {
		t.Errorf("the user's profile does not replace the embedded one: %v, %v", p, err)
	}
	if _, err := Find(all, "attr-own"); err != nil {
		t.Error(err)
	}
	if _, err := Find(all, "attr-other"); err == nil || !strings.Contains(err.Error(), "attr-own") {
		t.Errorf("the error does not list what there is: %v", err)
	}
	write("bad.toml", "width = 3\nheight = 5\n"+strings.SplitN(good, "width", 2)[0])
	_, err = Load(folder)
	if err == nil || !strings.Contains(err.Error(), "bad.toml") || strings.Contains(err.Error(), "\n") {
		t.Errorf("want one line that names bad.toml, got %v", err)
	}
	if _, err := Load(filepath.Join(folder, "notes.txt")); err == nil {
		t.Error("a file was taken for a folder")
	}
}

// What Parse accepts must be usable without a panic or a wild address.
func FuzzParse(f *testing.F) {
	for _, name := range []string{"attr-256x192-50", "attr-256x192-60", "text-40x25-50", "text-40x25-60"} {
		f.Add([]byte(embeddedText(f, name)))
	}
	f.Add([]byte("kind = \"attr\"\n[memory]\nrow_bits = -70\ncolumn_bits = 12\nbitmap = [\"\"]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse(data)
		if err != nil {
			return // refusing is fine
		}
		if p.Size() <= 0 || p.Size() > 1<<(p.RowBits+p.ColumnBits) || len(p.Colours) != 16 {
			t.Fatalf("accepted %+v", p)
		}
		if p.PitchX(720) <= 0 || p.FieldHz() <= 0 {
			t.Fatalf("pitch %v, field rate %v", p.PitchX(720), p.FieldHz())
		}
		if last := p.CellAddress(p.Rows()-1, p.Columns()-1); last != p.Size()-1 {
			t.Fatalf("last cell at %d of %d", last, p.Size())
		}
		if p.Kind != Attr {
			return
		}
		for y := range p.Height {
			for c := range p.Columns() {
				a := p.BitmapAddress(y, c)
				if gotY, gotC := p.BitmapPlace(a); a >= p.ColourBase || gotY != y || gotC != c {
					t.Fatalf("line %d, column %d: address %d of %d", y, c, a, p.ColourBase)
				}
			}
		}
	})
}
