"""What every app may use: domain errors, access checks, error handling of the API, file storage."""
