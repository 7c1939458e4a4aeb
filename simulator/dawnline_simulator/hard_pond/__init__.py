"""A second pond, harder than pond.py and sharing none of its processes: two layers, wind, oxygen, lagging beds.

It exists to judge the forecaster: it was written without sight of it, from published relations. Only the
chemistry of `dawnline.water` and the place of the sun are shared. Amounts are umol/L (alkalinity ueq/L).
"""
