package console

import (
	"context"

	"github.com/google/uuid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// Invite makes an invitation for an account, and prints the address that
// accepts it. It is the one time that anybody sees it.
func (c *Console) Invite(ctx context.Context, account string) error {
	name := accountName(account)
	made, err := c.SignIn.InviteAccount(ctx, &accessv1.InviteAccountRequest{Account: name, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		s.line("Whoever opens this signs in as %s from then on. It works once, until%s, and is shown this once:", idOf(name), at(made.GetExpireTime()))
		if made.GetUrl() != "" {
			s.line("  %s", made.GetUrl())
			return
		}
		// The server does not know where its desk is reached; whoever runs it does.
		s.line("  /invitation/%s at the desk's address", made.GetSecret())
	})
}
