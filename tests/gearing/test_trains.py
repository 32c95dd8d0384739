"""Records of a gear train."""

from shiftlore.gearing.trains import Coupling, CouplingKind, Mesh, Train


def _train() -> Train:
    meshes = (Mesh("a", "a.sun", "a.ring", "a.carrier", -1, None), Mesh("b", "b.sun", "b.ring", "b.carrier", -1, 2.0))
    return Train(meshes, (), (Coupling("f", "a.sun", kind=CouplingKind.ONE_WAY), Coupling("c", "a.ring")))


def test_unknown__names_meshes_without_ratio() -> None:
    assert _train().unknown() == (0,)


def test_with_ratios__fills_only_those_given() -> None:
    filled = _train().with_ratios({0: 1.9})
    assert [mesh.ratio for mesh in filled.meshes] == [1.9, 2.0]
    assert filled.unknown() == ()


def test_with_directions__leaves_others_alone() -> None:
    turned = _train().with_directions({"f": -1})
    assert [coupling.lets for coupling in turned.couplings] == [-1, 0]
