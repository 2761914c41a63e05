"""A small provider of OpenID Connect, run as a process: authorization code with PKCE (RFC 7636),
discovery, keys, tokens signed with RS256, user info. It is told who signs in next, and what to do
wrong, by a POST to /next.
"""

import base64
import hashlib
import json
import secrets
import sys
import time
from http.server import BaseHTTPRequestHandler, HTTPServer
from urllib.parse import parse_qs, unquote, urlencode, urlsplit

import jwt
from cryptography.hazmat.primitives.asymmetric import rsa

CLIENT, SECRET = "riserbook", "a secret of the tests"
KEY = rsa.generate_private_key(public_exponent=65537, key_size=2048)
OTHER_KEY = rsa.generate_private_key(public_exponent=65537, key_size=2048)
STATE: dict = {"next": {}, "codes": {}, "tokens": {}}


class Provider(BaseHTTPRequestHandler):
    def log_message(self, *args) -> None:
        pass

    @property
    def issuer(self) -> str:
        return f"http://127.0.0.1:{self.server.server_address[1]}"

    def do_GET(self) -> None:
        address = urlsplit(self.path)
        asked = {name: values[0] for name, values in parse_qs(address.query).items()}
        if address.path == "/.well-known/openid-configuration":
            self.answer(
                {
                    "issuer": STATE["next"].get("says_it_is", self.issuer),
                    "authorization_endpoint": f"{self.issuer}/authorize",
                    "token_endpoint": f"{self.issuer}/token",
                    "userinfo_endpoint": f"{self.issuer}/userinfo",
                    "jwks_uri": f"{self.issuer}/keys",
                    "token_endpoint_auth_methods_supported": ["client_secret_post"],
                }
            )
        elif address.path == "/keys":
            key = json.loads(jwt.algorithms.RSAAlgorithm.to_jwk(KEY.public_key()))
            self.answer({"keys": [key | {"kid": "one", "use": "sig", "alg": "RS256"}]})
        elif address.path == "/authorize":
            self.authorize(asked)
        elif address.path == "/userinfo":
            token = self.headers.get("Authorization", "").removeprefix("Bearer ")
            who = STATE["tokens"].get(token)
            if who is None:
                return self.answer({"error": "invalid_token"}, 401)
            said = {"sub": who.get("userinfo_sub", who["sub"]), "name": who["name"]}
            self.answer(said | {"email": who["email"], "email_verified": who["verified"]})
        else:
            self.answer({}, 404)

    def authorize(self, asked: dict) -> None:
        back = {"state": asked["state"]}
        if STATE["next"].get("refuses"):
            back["error"] = "access_denied"
        else:
            code = secrets.token_urlsafe()
            STATE["codes"][code] = asked | {"who": STATE["next"]}
            back["code"] = code
        self.send_response(302)
        self.send_header("Location", f"{asked['redirect_uri']}?{urlencode(back)}")
        self.end_headers()

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"])).decode()
        if self.path == "/next":
            STATE["next"] = json.loads(body)
            return self.answer({})
        said = {name: values[0] for name, values in parse_qs(body).items()}
        given = STATE["codes"].pop(said.get("code"), None)
        proof = hashlib.sha256(said.get("code_verifier", "").encode()).digest()
        challenge = base64.urlsafe_b64encode(proof).rstrip(b"=").decode()
        if (
            given is None
            or (said.get("client_id"), unquote(said.get("client_secret", ""))) != (CLIENT, SECRET)
            or given.get("code_challenge_method") != "S256"
            or challenge != given.get("code_challenge")
            or said.get("redirect_uri") != given["redirect_uri"]
        ):
            return self.answer({"error": "invalid_grant"}, 400)
        access = secrets.token_urlsafe()
        STATE["tokens"][access] = given["who"]
        answer = {"access_token": access, "token_type": "Bearer", "expires_in": 300}
        if not given["who"].get("no_token"):
            answer["id_token"] = self.token({"nonce": given.get("nonce")} | given["who"])
        self.answer(answer)

    def token(self, who: dict) -> str:
        now = int(time.time())
        claims = {
            "iss": who.get("iss", self.issuer), "aud": who.get("aud", CLIENT), "sub": who["sub"],
            "iat": now, "exp": now + who.get("lasts", 300), "email": who["email"],
            "email_verified": who["verified"],
        }  # fmt: skip
        if who["nonce"]:
            claims["nonce"] = who["nonce"]
        if who.get("unsigned"):
            return jwt.encode(claims, None, algorithm="none", headers={"kid": "one"})
        if who.get("no_key_named"):
            return jwt.encode(claims, KEY, algorithm="RS256")
        key = OTHER_KEY if who.get("forged") else KEY
        return jwt.encode(claims, key, algorithm="RS256", headers={"kid": "one"})

    def answer(self, said: dict, status: int = 200) -> None:
        body = json.dumps(said).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


if __name__ == "__main__":
    server = HTTPServer(("127.0.0.1", 0), Provider)
    print(server.server_address[1], flush=True)
    sys.stdout.close()
    server.serve_forever()
