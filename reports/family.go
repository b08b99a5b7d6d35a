package reports

import (
	"cmp"
	"slices"
)

// deepest is how deep the tree of families is nested. A family that is deeper
// stands beside its parent, which is named in any case.
const deepest = 12

// familyTree nests the families by where they parted. A family whose parent is
// not one before it stands at the top.
func familyTree(all []Family) (top []*familyView) {
	views := make([]*familyView, len(all))
	depth := make([]int, len(all))
	above := make([]int, len(all)) // whose list it stands in
	from := map[*familyView]int64{}
	for j, f := range all {
		v := &familyView{
			Name: familyName(j), Class: familyClass(j), Members: f.Repeats, Count: plural(len(f.Repeats), "repeat", "repeats"),
			From: count(f.From), Kind: f.Kind, Why: f.Why,
		}
		if len(f.Repeats) > 20 {
			v.Members, v.More = f.Repeats[:20], len(f.Repeats)-20
		}
		views[j], from[v], above[j] = v, f.From, -1
		if f.Parent >= 0 {
			v.Parent = familyName(f.Parent)
		}
		if f.Parent < 0 || f.Parent >= j {
			top = append(top, v)
			continue
		}
		up := f.Parent
		if depth[up] >= deepest {
			up = above[up]
		}
		depth[j], above[j] = depth[up]+1, up
		views[up].Children = append(views[up].Children, v)
	}
	for _, v := range views {
		slices.SortStableFunc(v.Children, func(a, b *familyView) int { return cmp.Compare(from[a], from[b]) })
	}
	return top
}
