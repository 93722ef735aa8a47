"""Pages of test rolls: from the plan to the review, with readings and files on the way."""
