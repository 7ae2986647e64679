"""An SMTP server for tests: prints what it took, one JSON object a line.

Arguments: certificate and key files, then starttls, smtps or plain. The first line printed is the port.
"""
import asyncio
import json
import ssl
import sys

from aiosmtpd.smtp import SMTP, AuthResult


class Keep:
    async def handle_RCPT(self, server, session, envelope, address, options):
        if address.startswith("unknown@"):
            return "550 5.1.1 no such mailbox"
        if address.startswith("later@"):
            return "451 4.7.1 try again later"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        print(json.dumps({
            "from": envelope.mail_from,
            "to": envelope.rcpt_tos,
            "data": envelope.content.decode("utf-8"),
            "tls": session.ssl is not None,
            "user": (session.auth_data.login.decode() if session.auth_data else ""),
        }), flush=True)
        return "250 taken"


def login(server, session, envelope, mechanism, auth_data):
    return AuthResult(success=auth_data.password == b"open sesame", handled=False, auth_data=auth_data)


async def serve(cert, key, how):
    context = None
    options = {"hostname": "127.0.0.1", "authenticator": login, "auth_require_tls": how == "starttls"}
    if how != "plain":
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(cert, key)
    if how == "starttls":
        options.update(tls_context=context, require_starttls=True)
    loop = asyncio.get_running_loop()
    server = await loop.create_server(
        lambda: SMTP(Keep(), loop=loop, **options), "127.0.0.1", 0,
        ssl=context if how == "smtps" else None)
    print(server.sockets[0].getsockname()[1], flush=True)
    await server.serve_forever()


asyncio.run(serve(*sys.argv[1:4]))
