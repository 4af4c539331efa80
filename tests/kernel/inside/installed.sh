# Read by boot.sh, in the root folder that is to be: what "spurlock install" has made is put there,
# with the owner's folder on a disk that outlasts a reboot, and a chip that is taken for a header.
cp -a run/results/root/. .
# Left by whatever may hold the host itself: systemd would take this machine for a container.
rm -f .dockerenv run/.containerenv
mkdir -p opt/spurlock-test/python opt/spurlock-test/project opt/spurlock-test/site
# Where the services can't see it (homes are hidden from them) it is shown elsewhere.
mount --bind ".$SPURLOCK_BASE" opt/spurlock-test/python
mount --bind ".$SPURLOCK_PROJECT" opt/spurlock-test/project
mount --bind ".$SPURLOCK_SITE" opt/spurlock-test/site
mount -t tmpfs tmpfs tmp
mount -t tmpfs tmpfs var/tmp
chroot . systemd-sysusers /etc/sysusers.d/spurlock.conf
mount -t ext4 /dev/vda var/lib/spurlock
chroot . chown -R spurlock:spurlock /var/lib/spurlock
chip=sys/kernel/config/gpio-sim/header
mkdir -p $chip/bank0
echo 28 > $chip/bank0/num_lines
echo pinctrl-sim > $chip/bank0/label
echo 1 > $chip/live
