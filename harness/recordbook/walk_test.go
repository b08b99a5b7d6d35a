package recordbook_test

import "io/fs"

func walk(root fs.FS, each func(name string, src []byte)) error {
	return fs.WalkDir(root, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		src, err := fs.ReadFile(root, name)
		each(name, src)
		return err
	})
}
