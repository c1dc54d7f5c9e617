"""The draw page: a site drawn and corrected in a browser on this machine, the word beside it.

`serve` is the door. `guard` lets nobody in but the page itself; `app` says which address does
what; `folder` holds what stands in the site folder and saves; `draft` turns what the page changed
into the two texts of a site; `bench` flies and judges a draft, in a process of its own (`worker`);
`forms` is what is asked of each thing and style; `page/` is what the browser gets.
"""
