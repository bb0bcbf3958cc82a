// Command assets bundles the sheets: internal/web/app into internal/web/assets.
// It needs the npm packages of package-lock.json beside it (npm ci) and no node.
// The bundle is committed, so that go build needs neither.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

func main() {
	root := ".."
	if len(os.Args) > 1 {
		root = os.Args[1]
	}
	if err := bundle(root); err != nil {
		fmt.Fprintln(os.Stderr, "assets:", err)
		os.Exit(1)
	}
}

func bundle(root string) error {
	root, err := filepath.Abs(root)
	if err != nil {
		return err
	}
	modules := filepath.Join(root, "tools", "assets", "node_modules")
	result := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{ // nothing is shared, so that neither waits for a third file
			{InputPath: filepath.Join(root, "internal/web/app/main.tsx"), OutputPath: "app"},
			{InputPath: filepath.Join(root, "internal/web/app/plot.ts"), OutputPath: "plot"},
		},
		Outdir:            filepath.Join(root, "internal/web/assets"),
		AbsWorkingDir:     root,
		NodePaths:         []string{modules},
		Bundle:            true,
		Format:            api.FormatESModule,
		Target:            api.ES2022,
		JSX:               api.JSXAutomatic,
		JSXImportSource:   "preact",
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		Charset:           api.CharsetUTF8,
		LegalComments:     api.LegalCommentsInline,
		LogLevel:          api.LogLevelWarning,
	})
	if len(result.Errors) > 0 {
		return fmt.Errorf("%d errors", len(result.Errors))
	}
	for _, f := range result.OutputFiles {
		body := bytes.TrimRight(f.Contents, "\n")
		body = append(body, '\n')
		if err := os.WriteFile(f.Path, body, 0o644); err != nil {
			return err
		}
		var z bytes.Buffer
		w, _ := gzip.NewWriterLevel(&z, gzip.BestCompression)
		_, _ = w.Write(body)
		_ = w.Close()
		fmt.Printf("assets: %s %d bytes, %d compressed\n", strings.TrimPrefix(f.Path, root+string(filepath.Separator)), len(body), z.Len())
	}
	return nil
}
