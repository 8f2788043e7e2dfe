"use strict";
const Code = { pack: (answers) => "LG2 " + JSON.stringify(answers), svg: () => "<svg viewBox='0 0 10 10' role='img'><title>Code</title><path d='M0 0h5v5h-5z'/></svg>" };
