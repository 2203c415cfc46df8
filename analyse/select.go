package analyse

import "cmp"

// Select gives the value that would stand at index k if v were sorted, and leaves v in another order: it is parted about a
// pivot until that index is found (Hoare, Algorithm 65: Find, CACM 4, 1961, from memory), in a time that grows with its length alone.
func Select[T cmp.Ordered](v []T, k int) T {
	for low, high := 0, len(v)-1; low < high; {
		pivot := v[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for pivot < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return v[k]
		}
	}
	return v[k]
}
