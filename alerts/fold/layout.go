package fold

import (
	"fmt"
	"hash/fnv"
	"reflect"

	"heaterd/alerts/warmth"
)

// layout stands for the names and types of everything a snapshot holds, so
// that one written by a program whose types were others is not misread.
var layout = func() uint64 {
	h := fnv.New64a()
	seen := map[reflect.Type]bool{}
	var walk func(t reflect.Type)
	walk = func(t reflect.Type) {
		fmt.Fprintln(h, t.Kind(), t.Name())
		if seen[t] {
			return
		}
		seen[t] = true
		switch t.Kind() {
		case reflect.Struct:
			for i := range t.NumField() {
				fmt.Fprintln(h, t.Field(i).Name)
				walk(t.Field(i).Type)
			}
		case reflect.Map:
			walk(t.Key())
			walk(t.Elem())
		case reflect.Array:
			fmt.Fprintln(h, t.Len())
			walk(t.Elem())
		case reflect.Slice, reflect.Pointer:
			walk(t.Elem())
		}
	}
	walk(reflect.TypeFor[memory]())
	walk(reflect.TypeFor[mind]())
	walk(reflect.TypeFor[warmth.Course]())
	return h.Sum64()
}()
