package main

import "github.com/spf13/cobra"

// commands lists every command of the program.
func commands(env lookup, std streams) []*cobra.Command {
	return []*cobra.Command{
		demoCommand(std),
		runCommand(env, std),
		checkCommand(env, std),
		replayCommand(env, std),
		captureCommand(env, std),
		decodeCommand(env, std),
		reportCommand(env, std),
		backupCommand(env, std),
		manualCommand(env),
		versionCommand(std),
	}
}

// require marks flags without which a command makes no sense.
func require(c *cobra.Command, names ...string) {
	for _, n := range names {
		if err := c.MarkFlagRequired(n); err != nil {
			panic("BUG: " + err.Error())
		}
	}
}
