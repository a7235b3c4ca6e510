#!/usr/bin/env bash
# Entry point of the test image: makes a cluster at the first start, then becomes the
# server. Reads the three variables that every PostgreSQL image is expected to read:
#
#   POSTGRES_PASSWORD   password of the superuser; required
#   POSTGRES_USER       name of the superuser; postgres when unset
#   POSTGRES_DB         database to create; named after the superuser when unset
#
# Its arguments are the server's command line ("postgres -c fsync=off"), or another
# program to run instead.
set -euo pipefail

user=${POSTGRES_USER:-postgres}
database=${POSTGRES_DB:-$user}

# The server refuses to run as root; a volume arrives owned by root, and the folder of
# the unix socket is not part of the image.
become_postgres() {
	install --directory --owner=postgres --group=postgres --mode=0700 "$PGDATA"
	install --directory --owner=postgres --group=postgres /var/run/postgresql
	exec gosu postgres "$0" "$@"
}

# The database is made through a server that listens on a unix socket alone, so that
# nobody gets in over the network before everything is ready. Callers wait for the
# line "ready to accept connections" twice: once from this server, once from the real one.
initialise() {
	if [[ -z ${POSTGRES_PASSWORD:-} ]]; then
		echo "POSTGRES_PASSWORD is not set: the superuser needs a password" >&2
		exit 1
	fi

	initdb --username="$user" --pwfile=<(printf '%s\n' "$POSTGRES_PASSWORD") \
		--encoding=UTF8 --auth-local=trust --auth-host=scram-sha-256
	echo 'host all all all scram-sha-256' >>"$PGDATA/pg_hba.conf"

	pg_ctl --wait --options="-c listen_addresses=''" start
	if [[ $database != postgres ]]; then
		createdb --username="$user" --maintenance-db=postgres -- "$database"
	fi
	pg_ctl --wait --mode=fast stop
}

if [[ ${1:-} == -* ]]; then
	set -- postgres "$@"
fi
if [[ ${1:-} != postgres ]]; then
	exec "$@"
fi
if [[ $(id -u) == 0 ]]; then
	become_postgres "$@"
fi
if [[ ! -s $PGDATA/PG_VERSION ]]; then
	initialise
fi

# The server's default is to listen on localhost, which inside a container reaches nobody.
shift
exec postgres -c listen_addresses='*' "$@"
