package main

import (
	"context"
	"os"
)

func main() {
	os.Exit(run(context.Background(), os.Args[1:], os.LookupEnv, streams{os.Stdin, os.Stdout, os.Stderr}))
}
