"""``python -m web`` serves the screen."""

from web.serve import main

raise SystemExit(main())
