package design

import (
	"reflect"

	"trefoil/lint/source"
)

// object is what every block has, of an object of any kind.
func object(o any) *Object {
	switch o := o.(type) {
	case *Site:
		return &o.Object
	case *Supply:
		return &o.Object
	case *Source:
		return &o.Object
	case *Board:
		return &o.Object
	case *Load:
		return &o.Object
	case *Route:
		return &o.Object
	case *Cable:
		return &o.Object
	case *Run:
		return &o.Object
	case *Waiver:
		return &o.Object
	case *Approved:
		return &o.Object
	case *Price:
		return &o.Object
	case *HouseRule:
		return &o.Object
	}
	return nil
}

var rangeType = reflect.TypeFor[source.Range]()

// alike says that two objects say the same, wherever they stand.
func alike(a, b reflect.Value) bool {
	if a.Type() == rangeType {
		return a.Field(0).IsNil() == b.Field(0).IsNil()
	}
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			if !alike(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !alike(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Pointer:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() == b.IsNil()
		}
		return alike(a.Elem(), b.Elem())
	}
	return a.Equal(b)
}
