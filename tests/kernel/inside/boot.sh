#!/bin/sh
# The test machine's first process. It lays a folder in memory over the shared root folder, which
# is read-only, and gives the machine to $SPURLOCK_INIT: systemd's path, or "tests" for our own.
PATH=/usr/sbin:/usr/bin:/sbin:/bin
HOME=/root
export PATH HOME
umask 022
mount -t proc proc /proc
mount -t tmpfs tmpfs /mnt
mkdir /mnt/upper /mnt/work /mnt/root
mount -t overlay overlay -o lowerdir=/,upperdir=/mnt/upper,workdir=/mnt/work /mnt/root
root=/mnt/root
mount -t proc proc $root/proc
mount -t sysfs sysfs $root/sys
mount -t configfs configfs $root/sys/kernel/config
mount -t cgroup2 cgroup2 $root/sys/fs/cgroup
mount -t devtmpfs devtmpfs $root/dev
mkdir -p $root/dev/shm $root/dev/pts
mount -t tmpfs tmpfs $root/dev/shm
mount -t devpts devpts $root/dev/pts
mount -t tmpfs -o mode=755 tmpfs $root/run
mkdir $root/run/results
mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144 results $root/run/results
umount /proc
cd $root
if [ "$SPURLOCK_INIT" = tests ]; then
  chroot . "$SPURLOCK_PROJECT/tests/kernel/inside/serve.sh"
  exec chroot . "$SPURLOCK_PYTHON" -I -S -c 'import ctypes; ctypes.CDLL(None).reboot(0x4321FEDC)'
fi
. ./"$SPURLOCK_PROJECT/tests/kernel/inside/installed.sh"
exec switch_root . "$SPURLOCK_INIT" --unit="$SPURLOCK_TARGET"
