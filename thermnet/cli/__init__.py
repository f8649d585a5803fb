"""room"""
