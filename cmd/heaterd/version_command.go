package main

import (
	"cmp"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func versionCommand(std streams) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "print the version",
		Args:  noArguments,
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(std.out, "heaterd", whichBuild())
			return failure(err)
		},
	}
}

// release is set by the linker where a package is built (-X main.release=…).
var release string

// whichBuild says which program this is, for people.
func whichBuild() string {
	return version() + " " + runtime.Version() + " " + runtime.GOOS + "/" + runtime.GOARCH
}

// version is what the build was told, else what it recorded: a tag, else the
// commit.
func version() string {
	b, ok := debug.ReadBuildInfo()
	switch {
	case release != "":
		return release
	case !ok:
		return "unknown"
	case b.Main.Version != "" && b.Main.Version != "(devel)":
		return b.Main.Version
	}
	return cmp.Or(revision(), "devel")
}

// revision is the commit of the build; empty where it recorded none.
func revision() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	for _, s := range b.Settings {
		if s.Key == "vcs.revision" {
			return s.Value[:min(12, len(s.Value))]
		}
	}
	return ""
}
