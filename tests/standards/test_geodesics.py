"""Distances on the ellipsoid against published geodesics."""

import pytest

from library.science.isolation import distance_m


def test_wellington_to_salamanca():
    # The worked example in the documentation of GeographicLib (read): 19 959 679.267 m
    metres = distance_m(lat1=-41.32, lon1=174.81, lat2=40.96, lon2=-5.50)

    assert metres == pytest.approx(19_959_679.267, abs=0.001)


@pytest.mark.parametrize(
    ("lat1", "lon1", "lat2", "lon2", "metres"),
    [
        # Karney's published set of test geodesics (read, as shipped with GeographicLib)
        (35.60777, -139.44815, -11.17491, -69.95921, 8935244.5604818305),
        (-21.97856, 142.59065, 41.84138, 98.56635, 8394328.894657671),
        (-50.56724, -16.30485, -33.56571, -94.97412, 6455670.5118668696),
        (-68.82867, -74.28391, -50.63005, -8.36685, 3956936.926063544),
    ],
)
def test_published_geodesics_come_out(lat1, lon1, lat2, lon2, metres):
    assert distance_m(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2) == pytest.approx(
        metres, abs=1e-6
    )


def test_one_degree_of_latitude_and_of_the_equator():
    # WGS84 (from memory): a degree of the equator is 111 319.49 m, the first of latitude 110
    # 574.39 m
    assert distance_m(lat1=0, lon1=0, lat2=0, lon2=1) == pytest.approx(111_319.49, abs=0.01)
    assert distance_m(lat1=0, lon1=0, lat2=1, lon2=0) == pytest.approx(110_574.39, abs=0.01)
