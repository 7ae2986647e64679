package config_test

import (
	"os"
	"path/filepath"
	"testing"

	"heaterd/config"
)

func TestSmallFileIsAcceptedWithoutItsSecrets(t *testing.T) {
	cfg, err := config.Load(filepath.Join("testdata", "small.yaml"), os.LookupEnv)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(config.Summary(cfg))
	if err := cfg.Ready(); err == nil {
		t.Error("Ready is silent about the password file that is not there")
	}
}
