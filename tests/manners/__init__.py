r"""How the pages behave, whoever comes with whatever screen, and with nothing but this machine.

Everything here runs in a browser that can reach no address but this machine's own.

Lighthouse is not among these tests: it is a program of its own, for Node 20 or later, and its
performance score is this machine's as much as the pages'. It is run by hand, over the demo with
its crews at work, outside this repository::

    npm install --no-save lighthouse@12
    spurlock demo
    CHROME_PATH=/usr/bin/chromium npx --no-install lighthouse http://127.0.0.1:8080/ --quiet \
        --output=json --output-path=board.json --chrome-flags="--headless=new --no-sandbox"

The same for a crew's page (the address under the code on a job's sheet) and for ``/debrief``.
All three have to have 95 or more for accessibility and for best practices and 90 or more for
performance, as the ``categories`` of the file say (there 1 is 100).
"""
