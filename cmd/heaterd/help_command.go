package main

import "github.com/spf13/cobra"

// helpCommand shows how a command is used. The library's own shows the whole
// program for a command that there is not.
func helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "help [command]",
		Short: "say how a command is used",
		RunE: func(c *cobra.Command, args []string) error {
			found, rest, err := c.Root().Find(args)
			if err != nil {
				return misuse(c.Root(), err)
			}
			if err := noArguments(found, rest); err != nil {
				return err
			}
			return found.Help()
		},
	}
}
