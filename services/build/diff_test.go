package build_test

import (
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
)

func TestAnAmendmentNamesEachFieldBeforeAndAfter(t *testing.T) {
	before, _ := first(t)
	after, _ := first(t)
	after.Components[1].Lot = "L08"
	after.Components = append(after.Components[:2], after.Components[3:]...) // the engine is no longer listed
	after.Components = append(after.Components, build.Component{Position: "winch", Serial: "W-1"})
	after.Delivered = day(2012, 5, 1)
	after.FinishNote = ""
	want := []build.AmendedField{
		{"components[transfer-case].lot", "L07", "L08"},
		{"components[engine]", "listed", ""},
		{"components[engine].part", "AP-1001", ""},
		{"components[engine].serial", "EN-77", ""},
		{"components[engine].traits", "adjustable-tappets, high-compression", ""},
		{"components[engine].note", "higher compression", ""},
		{"components[winch]", "", "listed"},
		{"components[winch].serial", "", "W-1"},
		{"finish_note", "grey-green", ""},
		{"delivery_date", "2012-04-30", "2012-05-01"},
	}
	if diff := cmp.Diff(want, build.Diff(&before, &after)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if same := build.Diff(&before, &before); len(same) != 0 {
		t.Errorf("a record against itself: got %v", same)
	}
}

// TestNoFieldOfARecordIsForgottenInAnAmendment changes every single value that
// a record holds, whatever fields it will have, and wants each change seen.
func TestNoFieldOfARecordIsForgottenInAnAmendment(t *testing.T) {
	before, _ := first(t)
	fill(reflect.ValueOf(&before).Elem())
	seen := 0
	for n := 0; ; n++ {
		after, _ := first(t)
		fill(reflect.ValueOf(&after).Elem())
		left := n
		path, ok := alter(reflect.ValueOf(&after).Elem(), "", &left)
		if !ok {
			break
		}
		if path == ".Serial" || path == ".Created.wall" || path == ".Created" {
			continue // the vehicle's own name, and when the record was made
		}
		seen++
		if len(build.Diff(&before, &after)) == 0 {
			t.Errorf("%s: changed, and the amendment does not say so", path)
		}
	}
	if seen < 40 {
		t.Errorf("only %d values were changed: the test does not look at everything", seen)
	}
}

// fill gives every empty value something, so that nothing is left out.
func fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			fill(v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			fill(v.Index(i))
		}
	case reflect.String:
		if v.String() == "" {
			v.SetString("mi")
		}
	case reflect.Int, reflect.Int64:
		if v.Int() == 0 {
			v.SetInt(1)
		}
	case reflect.Uint8:
		if v.Uint() == 0 {
			v.SetUint(1)
		}
	}
}

// alter changes the value number left, counted through the whole record.
func alter(v reflect.Value, path string, left *int) (string, bool) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return "", false
		}
		for i := range v.NumField() {
			if p, ok := alter(v.Field(i), path+"."+v.Type().Field(i).Name, left); ok {
				return p, true
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if p, ok := alter(v.Index(i), path+"[]", left); ok {
				return p, true
			}
		}
	case reflect.String, reflect.Int, reflect.Int64, reflect.Uint8, reflect.Bool:
		if *left > 0 {
			*left--
			return "", false
		}
		switch v.Kind() {
		case reflect.String:
			v.SetString(v.String() + "x")
		case reflect.Bool:
			v.SetBool(!v.Bool())
		case reflect.Uint8:
			v.SetUint(v.Uint() + 1)
		default:
			v.SetInt(v.Int() + 1)
		}
		return path, true
	}
	return "", false
}
