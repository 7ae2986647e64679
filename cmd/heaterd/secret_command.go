package main

import (
	"bufio"
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/bcrypt"
)

func secretCommand(std streams) *cobra.Command {
	return &cobra.Command{
		Use:   "secret",
		Short: "turn a password or a token into what the configuration keeps of it",
		Long: `Reads one line from standard input, a user's password or a program's token,
and prints what stands for it in the configuration: password_bcrypt of a user,
sha256 of a token. The line itself is kept nowhere.`,
		Example: "  heaterd check secret < password",
		Args:    noArguments,
		RunE:    func(*cobra.Command, []string) error { return failure(printSecret(std)) },
	}
}

func printSecret(std streams) error {
	line, err := bufio.NewReader(std.in).ReadString('\n')
	line = strings.TrimRight(line, "\r\n")
	if line == "" {
		return errors.Join(errors.New("there is no line on standard input"), err)
	}
	hash, err := bcrypt.GenerateFromPassword([]byte(line), bcrypt.DefaultCost)
	if err != nil {
		return fmt.Errorf("cannot make a password of it: %w", err)
	}
	_, err = fmt.Fprintf(std.out, "password_bcrypt: %s\nsha256: %x\n", hash, sha256.Sum256([]byte(line)))
	return err
}
