"""Which home each animal lives in and when it moves: least misfit, moves and cost, joint over one stock.

An animal is a row of costs, a home a column of them: nothing here knows a spider, a date or a shop.
"""
