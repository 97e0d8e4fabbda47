"""Networks of the wntr wheel as our nodes and links, and EPANET's own answer to them: for tests only."""

import pathlib
import warnings

from brinehouse.network.hydraulics import links

GPM = 6.30902e-5  # m3/s
FOOT = 0.3048


def model(name):
    """A network that comes with wntr."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        found = pathlib.Path(wntr.__file__).parent / "library" / "networks" / f"{name}.inp"
        return wntr.network.WaterNetworkModel(str(found))


def answer(made, folder):
    """Heads and flows at time nothing by EPANET 2.2, through its files."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        made.options.time.duration = 0
        made.options.hydraulic.accuracy = 1e-9  # its usual 1e-3 leaves a small flow a sixth off
        found = wntr.sim.EpanetSimulator(made).run_sim(file_prefix=str(pathlib.Path(folder) / "net"))
    return found.node["head"].iloc[0].to_dict(), found.link["flowrate"].iloc[0].to_dict()


def ours(made, *, darcy=False):
    """The same as nodes and links; patterns at time nothing."""
    nodes, joined = [], []
    for id, node in made.nodes():
        if node.node_type == "Junction":
            base = node.demand_timeseries_list.at(0, multiplier=made.options.hydraulic.demand_multiplier)
            nodes.append(links.Node(id=id, demand=base))
        else:
            head = node.head if hasattr(node, "init_level") else node.head_timeseries.at(0)
            nodes.append(links.Node(id=id, head=node.elevation + node.init_level if head is None else head))
    for id, link in made.links():
        joined.append(_link(id, link, darcy))
    return nodes, joined


def _link(id, link, darcy):
    ends = {"id": id, "source": link.start_node_name, "target": link.end_node_name}
    open_ = str(link.initial_status) != "Closed"
    if link.link_type == "Pipe":
        rough = {"roughness": link.roughness} if darcy else {"smoothness": link.roughness}
        return links.Link(
            **ends, kind="pipe" if darcy else "hazen", length=link.length, diameter=link.diameter,
            loss=link.minor_loss, check=link.check_valve, open=open_, **rough,
        )  # fmt: skip
    if link.link_type == "Pump":
        curve = tuple(tuple(point) for point in link.get_pump_curve().points)
        return links.Link(**ends, kind="pump", curve=curve, open=open_, speed=link.base_speed)
    raise NotImplementedError(link.link_type)
