"""The reference site's generator. It knows the API by HTTP only."""
