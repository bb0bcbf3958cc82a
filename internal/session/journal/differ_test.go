package journal

import (
	"fmt"
	"math"
	"reflect"
)

// differ says where two values differ, unexported fields and all; "" where
// they do not. A figure that is no number is a fault in itself.
func differ(path string, a, b reflect.Value) string {
	if a.IsValid() != b.IsValid() || a.IsValid() && a.Type() != b.Type() {
		return path
	}
	if !a.IsValid() {
		return ""
	}
	switch a.Kind() {
	case reflect.Float64:
		if x, y := a.Float(), b.Float(); math.Float64bits(x) != math.Float64bits(y) || math.IsNaN(x) {
			return fmt.Sprintf("%s: %v, %v", path, x, y)
		}
	case reflect.Pointer, reflect.Interface:
		if a.IsNil() || b.IsNil() {
			if a.IsNil() != b.IsNil() {
				return path + ": one is nil"
			}
			return ""
		}
		return differ(path, a.Elem(), b.Elem())
	case reflect.Struct:
		for i := range a.NumField() {
			if d := differ(path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i)); d != "" {
				return d
			}
		}
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return fmt.Sprintf("%s: %d long, %d", path, a.Len(), b.Len())
		}
		for i := range a.Len() {
			if d := differ(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i)); d != "" {
				return d
			}
		}
	case reflect.Map:
		if a.Len() != b.Len() {
			return path + ": maps of other lengths"
		}
		for _, k := range a.MapKeys() {
			if d := differ(fmt.Sprintf("%s[%v]", path, k), a.MapIndex(k), b.MapIndex(k)); d != "" {
				return d
			}
		}
	default:
		if !a.Equal(b) {
			return fmt.Sprintf("%s: %v, %v", path, a, b)
		}
	}
	return ""
}
