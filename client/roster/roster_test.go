package roster_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"pgregory.net/rapid"

	"parcours.example/api/contract"
	"parcours.example/client/roster"
)

func ExampleRead() {
	riders, err := roster.Read(strings.NewReader("name;mass_kg;power_w\nNour;61,5;230\nBram;82;\n"))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range riders {
		fmt.Println(*r.Name, r.MassKg, r.PowerW != nil)
	}
	// Output:
	// Nour 61.5 true
	// Bram 82 false
}

func ExampleParseRider() {
	r, err := roster.ParseRider("name=Nour,mass=61,cp=245,wprime=15000,effort=best")
	fmt.Println(*r.Name, r.MassKg, *r.CriticalPowerW, *r.WPrimeJ, r.Best, err)
	_, err = roster.ParseRider("name=Nour,power=230")
	fmt.Println(err)
	// Output:
	// Nour 61 245 15000 true <nil>
	// The rider can't be read: a rider needs a mass, as in mass=72,power=250.
}

func TestReadTakesWhatSpreadsheetsWrite(t *testing.T) {
	for _, text := range []string{
		"name,mass_kg,w_prime_j\nNour Abel,61.5,15000\n",
		"\ufeffname;mass_kg;w_prime_j\r\nNour Abel;61,5;15000\r\n\r\n;;\r\n",
		"W_PRIME_J\tName\t Mass_kg \n15000\t\"Nour Abel\"\t61.5",
		"name,mass_kg,w_prime_j\n\"Nour Abel\", 61.5, 15000,\n",
	} {
		riders, err := roster.Read(strings.NewReader(text))
		if err != nil || len(riders) != 1 {
			t.Fatalf("%q: %d riders, %v", text, len(riders), err)
		}
		if r := riders[0]; *r.Name != "Nour Abel" || r.MassKg != 61.5 || *r.WPrimeJ != 15000 || r.PowerW != nil {
			t.Errorf("%q: %+v", text, r)
		}
	}
}

func TestReadTellsWhatIsWrongAndWhere(t *testing.T) {
	for text, says := range map[string]string{
		"":                                   "the table of riders is empty",
		"mass_kg\n":                          "no line below its header",
		"name,power_w\nNour,230\n":           "line 1: there is no column mass_kg",
		"name,weight\nNour,61\n":             `line 1: there is no column "weight"; there are name, mass_kg`,
		"mass_kg,mass_kg\n61,61\n":           "line 1: there are two columns",
		"name,mass_kg\nNour,\n":              "line 2: the rider has no mass_kg",
		"name,mass_kg\n\nNour,heavy\n":       "line 3: mass_kg is a number from 20 to 250 kg",
		"mass_kg\nNaN\n":                     "line 2: mass_kg is a number",
		"mass_kg\n19\n":                      "line 2: mass_kg is a number",
		"name,mass_kg\nNour,61,230\n":        "line 2: there are 3 fields below 2 columns",
		"mass_kg\n\"61\n":                    "line 2: ",
		"name,mass_kg\nNour,600\nBram,1,9\n": "line 3: mass_kg",
		strings.Repeat("x,", 4<<19) + "\n":   "more than",
		strings.Repeat("x,", 99) + "\n1\n":   `line 1: there is no column "x"`,
		"name,mass_kg\n" + strings.Repeat("é", 201) + ",61\n": "line 2: The rider can't be read: the name is longer",
	} {
		_, err := roster.Read(strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%.40q: %v, want it to say %q", text, err, says)
			continue
		}
		if lines := strings.Count(err.Error(), "\n"); lines > 15 {
			t.Errorf("%.40q: %d lines of faults", text, lines)
		}
		for _, private := range []string{"600", "heavy", "230"} {
			if strings.Contains(err.Error(), private) {
				t.Errorf("%.40q: the fault repeats %s", text, private)
			}
		}
	}
}

// A column that the service doesn't know, or a range that isn't the contract's, would refuse
// riders who are in order, or send what is refused.
func TestColumnsAreTheContracts(t *testing.T) {
	doc, err := openapi3.NewLoader().LoadFromFile("../../openapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	untold := []string{"name", "recovery_law"} // no numbers; a law is for studies
	for name, property := range doc.Components.Schemas["Rider"].Value.Properties {
		if slices.Contains(untold, name) {
			continue
		}
		low, high := *property.Value.Min, *property.Value.Max
		for x, taken := range map[float64]bool{low: true, high: true, low - 0.01: false, high + 0.01: false} {
			text := fmt.Sprintf("%s,name,mass_kg\n%v,Nour,61\n", name, x)
			if name == "mass_kg" {
				text = fmt.Sprintf("%s,name\n%v,Nour\n", name, x)
			}
			if _, err := roster.Read(strings.NewReader(text)); (err == nil) != taken {
				t.Errorf("%s of %v: %v, want it taken: %t", name, x, err, taken)
			}
		}
	}
}

func TestReadReturnsWhatWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfN(rapid.StringMatching(`[\p{L}][\p{L}"',; ]{0,20}[\p{L}]`), 1, 20).Draw(t, "names")
		var b strings.Builder
		b.WriteString("mass_kg,name\n")
		for i, name := range names {
			fmt.Fprintf(&b, "%d,\"%s\"\n", 40+i, strings.ReplaceAll(name, `"`, `""`))
		}
		riders, err := roster.Read(strings.NewReader(b.String()))
		if err != nil || len(riders) != len(names) {
			t.Fatalf("%d of %d riders, %v", len(riders), len(names), err)
		}
		for i, r := range riders {
			if *r.Name != names[i] || r.MassKg != float64(40+i) {
				t.Errorf("%q of %v kg, want %q", *r.Name, r.MassKg, names[i])
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, text := range []string{"name,mass_kg\nNour,61\n", "name;mass_kg\nNour;61,5\n", "\ufeffmass_kg\tname\n", "\"", ""} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, content []byte) {
		riders, err := roster.Read(bytes.NewReader(content))
		if (err == nil) != (len(riders) > 0) {
			t.Errorf("%d riders, %v", len(riders), err)
		}
		if slices.ContainsFunc(riders, func(r contract.Rider) bool { return !(20 <= r.MassKg && r.MassKg <= 250) }) {
			t.Error("a rider without a mass")
		}
	})
}
