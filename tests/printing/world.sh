#!/usr/bin/env bash
# A world of printers of its own: loopback only, its own message bus, name service, spooler and software printers.
# Runs inside unshare --net --mount --pid --fork --mount-proc --kill-child, so that ending it ends all of it.
# usage: world.sh FOLDER (made by world.py: pdf.conf raster.conf capture.sh cupsd.conf cups-files.conf dbus.conf)
set -eu
cd "$1"
ip link set lo up
ip link set lo multicast on
ip route add 224.0.0.0/4 dev lo
mount -t tmpfs tmpfs /run
mkdir -p /run/dbus /run/avahi-daemon /run/cups/certs
chown avahi:avahi /run/avahi-daemon
dbus-daemon --system --fork --nopidfile
avahi-daemon -f "$PWD/avahi.conf" --no-drop-root --no-chroot -D
mkdir -p cups/spool/tmp cups/cache cups/state/certs cups/root/ppd cups/log
chown -R root:lp cups && chmod -R g+rwX cups
cupsd -f -c "$PWD/cupsd.conf" -s "$PWD/cups-files.conf" >cups/stdout 2>&1 &
while read -r name port conf command; do
  mkdir -p "got/$name" "spool/$name" "keys/$name"
  HOME="$PWD" GOT="$PWD/got/$name" ippeveprinter -d "$PWD/spool/$name" -K "$PWD/keys/$name" -k -p "$port" -n localhost \
    -a "$PWD/$conf" -c "$PWD/$command" "$name" >"got/$name.log" 2>&1 &
done <printers
touch ready
sleep 100000
