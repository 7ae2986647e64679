# heaterd in an image that holds one program with the world's time zones in it,
# the authorities it trusts, and nothing to log in to.
#
#   docker build -t heaterd .

FROM golang:1.26.11-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download && go mod verify
COPY . .
# -trimpath and an empty build id make two builds of one commit the same bytes.
# The version is the commit's, from .git.
RUN git config --global --add safe.directory /src \
 && CGO_ENABLED=0 go build -trimpath -buildvcs=auto -ldflags "-s -w -buildid=" -o /out/heaterd ./cmd/heaterd \
 && install -d -m 0700 /out/state

FROM scratch
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
COPY --from=build --chown=65532:65532 /out/state /var/lib/heaterd
COPY --from=build /out/heaterd /heaterd
USER 65532:65532
WORKDIR /var/lib/heaterd
VOLUME /var/lib/heaterd
EXPOSE 8080 9464
ENTRYPOINT ["/heaterd"]
CMD ["run", "--config", "/etc/heaterd/heaterd.yaml"]
