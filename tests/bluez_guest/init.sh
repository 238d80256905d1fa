#!/bin/bash
# The guest's first process: mounts, D-Bus, bluetoothd, the command, power off.
export PATH=/usr/sbin:/usr/bin:/sbin:/bin PYTHONPATH=/opt/site:/opt/project PYTHONUNBUFFERED=1 HOME=/root LANG=C.UTF-8
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev 2>/dev/null
mkdir -p /dev/pts /dev/shm
mount -t tmpfs run /run
mount -t tmpfs tmp /tmp
mount -t tmpfs shm /dev/shm
mount -o remount,rw / 2>/dev/null
exec </dev/null >/dev/ttyS0 2>&1
uptime_s() { cut -d' ' -f1 /proc/uptime; }
ip link set lo up
modprobe hci_vhci || echo "GUEST has no hci_vhci"
mkdir -p /run/dbus
[ -s /etc/machine-id ] || dbus-uuidgen > /etc/machine-id
dbus-daemon --system --fork --nopidfile
/usr/libexec/bluetooth/bluetoothd -n > /tmp/bluetoothd.log 2>&1 &
for _ in $(seq 200); do
  dbus-send --system --print-reply --dest=org.bluez / org.freedesktop.DBus.Peer.Ping >/dev/null 2>&1 && break
  sleep .05
done
echo "GUEST bluetoothd answers at $(uptime_s) s"
limit=$(sed -n 's/.*guest_limit=\([0-9]*\).*/\1/p' /proc/cmdline)
command=$(sed -n 's/.*guest_command=\([^ ]*\).*/\1/p' /proc/cmdline | base64 -d)
cd /opt/project || exit
timeout "${limit:-900}" bash -c "$command"
echo "GUEST rc=$? at $(uptime_s) s"
grep -iE 'error|fail' /tmp/bluetoothd.log | tail -5
sync
echo o > /proc/sysrq-trigger
sleep 5
