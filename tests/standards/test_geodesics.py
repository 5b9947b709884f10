"""Distances on the ellipsoid against published geodesics, and against other ways to them.

Vincenty's five worked lines of 1975 are on the ellipsoids of Bessel and Hayford, which
``distance_m`` does not take; the line that geodesists publish for his formulae in Australia is
on GRS80, which is WGS84 to a tenth of a millimetre in 50 km.
"""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.polynomial.legendre import leggauss

from library.science.isolation import distance_m

# WGS84 (from memory: NIMA TR8350.2): the equator's radius in metres, the flattening.
EQUATOR_M, FLATTENING = 6_378_137.0, 1 / 298.257223563
SQUARED = FLATTENING * (2 - FLATTENING)  # of the eccentricity

# Where to look between -1 and 1, and how much each place counts: Gauss's quadrature.
STEPS = list(zip(*leggauss(40), strict=True))

LATITUDES = st.floats(-90, 90)
LONGITUDES = st.floats(-180, 180)


def along_meridian(latitude: float) -> float:
    """The radius of curvature north and south, in metres."""
    sine = math.sin(math.radians(latitude))
    return EQUATOR_M * (1 - SQUARED) / (1 - SQUARED * sine**2) ** 1.5


def across_meridian(latitude: float) -> float:
    """The radius of curvature east and west, in metres."""
    sine = math.sin(math.radians(latitude))
    return EQUATOR_M / math.sqrt(1 - SQUARED * sine**2)


def angle(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """The angle at the middle of a sphere between these coordinates: the haversine formula."""
    north, east = math.radians(lat2 - lat1), math.radians(lon2 - lon1)
    cosines = math.cos(math.radians(lat1)) * math.cos(math.radians(lat2))
    half = math.sin(north / 2) ** 2 + cosines * math.sin(east / 2) ** 2
    return 2 * math.asin(min(1.0, math.sqrt(half)))


def between(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    return distance_m(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2)


def test_wellington_to_salamanca():
    # The worked example in the documentation of GeographicLib (read): 19 959 679.267 m
    assert between(-41.32, 174.81, 40.96, -5.50) == pytest.approx(19_959_679.267, abs=0.001)


def test_flinders_peak_to_buninyong():
    # The test line of the Geocentric Datum of Australia's manual, 54 972.271 m (coordinates and
    # length read in published code that is tested by it; that it is the manual's: from memory)
    flinders_peak = -(37 + 57 / 60 + 3.72030 / 3600), 144 + 25 / 60 + 29.52440 / 3600
    buninyong = -(37 + 39 / 60 + 10.15610 / 3600), 143 + 55 / 60 + 35.38390 / 3600

    assert between(*flinders_peak, *buninyong) == pytest.approx(54_972.271, abs=0.001)


@pytest.mark.parametrize(
    ("lat1", "lon1", "lat2", "lon2", "metres"),
    [
        # Karney's published set of test geodesics, all twenty lines that GeographicLib ships
        # with its own tests (read); longitudes past 180 degrees are written as west here
        (35.60777, -139.44815, -11.17491, -69.95921, 8935244.5604818305),
        (55.52454, 106.05087, 77.03196, 197.18234 - 360, 4105086.1713924406),
        (-21.97856, 142.59065, 41.84138, 98.56635, 8394328.894657671),
        (-66.99028, 112.2363, -12.70631, 285.90344 - 360, 11150344.2312080241),
        (-17.42761, 173.34268, -15.84784, 5.93557, 16076603.1631180673),
        (32.84994, 48.28919, -56.28556, 202.29132 - 360, 16727068.9438164461),
        (6.96833, 52.74123, -7.39675, 206.17291 - 360, 17102477.2496958388),
        (-50.56724, -16.30485, -33.56571, -94.97412, 6455670.5118668696),
        (-58.93002, -8.90775, -8.91104, 133.13503, 11756066.0219864627),
        (-68.82867, -74.28391, -50.63005, -8.36685, 3956936.926063544),
        (-10.62672, -32.0898, 5.883, -134.31681, 11470869.3864563009),
        (-21.76221, 166.90563, 48.72884, 213.97627 - 360, 9098627.3986554915),
        (-19.79938, -174.47484, -11.99349, -154.35109, 2319004.8601169389),
        (-11.95887, -116.94513, 4.57352, 7.16501, 13834722.5801401374),
        (-87.85331, 85.66836, 66.48646, 16.09921, 17286615.3147144645),
        (1.74708, 128.32011, -11.16617, 11.87109, 12942901.1241347408),
        (-25.72959, -144.90758, -57.70581, 360 - 269.17879, 9413446.7452453107),
        (-41.22777, 122.32875, -7.57291, 130.37946, 3812686.035106021),
        (11.01307, 138.25278, 6.62726, 247.05981 - 360, 11911190.819018408),
        (-29.47124, 95.14681, -27.46601, -69.15955, 13487015.8381145492),
    ],
)
def test_published_geodesics_come_out(lat1, lon1, lat2, lon2, metres):
    assert between(lat1, lon1, lat2, lon2) == pytest.approx(metres, abs=1e-6)
    assert between(lat2, lon2, lat1, lon1) == pytest.approx(metres, abs=1e-6)


@pytest.mark.parametrize(
    ("lat1", "lat2", "lon2", "metres", "printed_to"),
    [
        # Nearly opposite places, for which Vincenty's iteration does not end: GeographicLib's
        # tests GeodSolve6, 9, 10, 11 and 33 (read). The first place is at longitude 0.
        (88.202499451857, -88.202499451857, 179.981022032992859592, 20003898.214, 0.001),
        (89.262080389218, -89.262080389218, 179.992207982775375662, 20003925.854, 0.001),
        (89.333123580033, -89.333123580032997687, 179.99295812360148422, 20003926.881, 0.001),
        (56.320923501171, -56.320923501171, 179.664747671772880215, 19993558.287, 0.001),
        (52.784459512564, -52.784459512563990912, 179.634407464943777557, 19991596.095, 0.001),
        (48.522876735459, -48.52287673545898293, 179.599720456223079643, 19989144.774, 0.001),
        (0, 0, 179, 19926189, 1),
        (0, 0, 179.5, 19980862, 1),
        (0, 0, 180, 20003931, 1),
        (0, 1, 180, 19893357, 1),
        # and GeodSolve4: two places a hand apart
        (36.493349428792, 36.49334942879201, 0.0000008, 0.072, 0.001),
    ],
)
def test_nearly_opposite_and_nearly_the_same_places(lat1, lat2, lon2, metres, printed_to):
    assert between(lat1, 0, lat2, lon2) == pytest.approx(metres, abs=printed_to / 2)


def test_one_degree_of_latitude_and_of_the_equator():
    # WGS84 (from memory): a degree of the equator is 111 319.49 m, the first of latitude 110
    # 574.39 m
    assert between(0, 0, 0, 1) == pytest.approx(111_319.49, abs=0.01)
    assert between(0, 0, 1, 0) == pytest.approx(110_574.39, abs=0.01)


def test_from_the_equator_to_a_pole():
    # The quarter meridian of WGS84 (from memory): 10 001 965.729 m
    assert between(0, 0, 90, 0) == pytest.approx(10_001_965.729, abs=0.001)
    assert between(-90, 12, 90, -77) == pytest.approx(2 * 10_001_965.729, abs=0.002)


@given(lat1=LATITUDES, lat2=LATITUDES, lon=LONGITUDES)
def test_along_a_meridian_it_is_the_arc_added_up(lat1, lat2, lon):
    middle, half = (lat1 + lat2) / 2, abs(lat2 - lat1) / 2
    arc = math.radians(half) * sum(w * along_meridian(middle + half * x) for x, w in STEPS)

    assert between(lat1, lon, lat2, lon) == pytest.approx(arc, abs=1e-5)


@given(lon1=LONGITUDES, east=st.floats(0, 179))
def test_along_the_equator_it_is_a_circle_until_nearly_opposite(lon1, east):
    lon2 = lon1 + east if lon1 + east <= 180 else lon1 + east - 360

    assert between(0, lon1, 0, lon2) == pytest.approx(EQUATOR_M * math.radians(east), abs=1e-5)


@given(lat1=LATITUDES, lon1=LONGITUDES, lat2=LATITUDES, lon2=LONGITUDES)
def test_it_lies_between_the_spheres_that_the_ellipsoid_lies_between(lat1, lon1, lat2, lon2):
    # Each step is as long as on a sphere of a radius of curvature there: 6 335 439 m north and
    # south at the equator is the smallest, 6 399 594 m at a pole the largest.
    on_a_sphere = angle(lat1, lon1, lat2, lon2)

    metres = between(lat1, lon1, lat2, lon2)

    assert metres >= along_meridian(0) * on_a_sphere - 1e-3
    assert metres <= across_meridian(90) * on_a_sphere + 1e-3


@given(
    lat=st.floats(-66, 66),
    lon=st.floats(-179, 179),
    north=st.floats(-1, 1),
    east=st.floats(-1, 1),
)
def test_among_gardens_it_is_what_a_tape_would_say(lat, lon, north, east):
    # Up to 5 km: a right-angled triangle with the radii of curvature at its middle.
    lat2, lon2 = lat + north * 0.03, lon + east * 0.03
    middle = (lat + lat2) / 2
    up = along_meridian(middle) * math.radians(lat2 - lat)
    across = across_meridian(middle) * math.cos(math.radians(middle)) * math.radians(lon2 - lon)
    assume(math.hypot(up, across) > 1)

    assert between(lat, lon, lat2, lon2) == pytest.approx(math.hypot(up, across), rel=1e-6)
