#!/usr/bin/env bash
# Builds a PostgreSQL container image from Debian's own packages, for the tests that
# want a container on a machine that reaches no image registry.
#
#   deploy/postgres-image/build.sh [TAG]        (default tiedown-postgres:15)
#
# Needs mmdebstrap and a Docker engine that answers. Does nothing when the tag already
# holds an image of the recipe in this folder. For tests only: it keeps no promise about
# upgrades, and its first start is not safe against being cut short.
set -euo pipefail

tag=${1:-tiedown-postgres:15}
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
recipe=$(cat "$here/build.sh" "$here/entrypoint.sh" | sha256sum | cut -c1-16)

if [[ $(docker image inspect --format '{{index .Config.Labels "recipe"}}' "$tag" 2>/dev/null) == "$recipe" ]]; then
	echo "$tag is there already"
	exit
fi
docker info >/dev/null # says so and ends here when no engine answers

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# The package makes a cluster of its own while it installs; the entry point makes
# another with the names it is given, so the first one is dead weight, as are the
# pages nobody reads inside a container.
mmdebstrap --quiet --variant=minbase --include=postgresql-15,gosu \
	--dpkgopt='path-exclude=/usr/share/man/*' \
	--dpkgopt='path-exclude=/usr/share/doc/*' \
	--dpkgopt='path-exclude=/usr/share/locale/*' \
	--customize-hook='rm -rf "$1/var/lib/postgresql/15" "$1/etc/postgresql/15"' \
	--customize-hook="upload '$here/entrypoint.sh' /usr/local/bin/entrypoint.sh" \
	--customize-hook='chmod 0755 "$1/usr/local/bin/entrypoint.sh"' \
	bookworm "$work/root.tar"

# Through a file and not a pipe: a root that failed half-way must not become an image.
docker import \
	--change 'ENV PATH=/usr/lib/postgresql/15/bin:/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin' \
	--change 'ENV LANG=C.UTF-8' \
	--change 'ENV PGDATA=/var/lib/postgresql/data' \
	--change 'VOLUME /var/lib/postgresql/data' \
	--change "LABEL recipe=$recipe" \
	--change 'EXPOSE 5432' \
	--change 'ENTRYPOINT ["/usr/local/bin/entrypoint.sh"]' \
	--change 'CMD ["postgres"]' \
	"$work/root.tar" "$tag" >/dev/null

echo "built $tag"
