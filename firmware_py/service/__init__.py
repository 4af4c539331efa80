"""The service room: the processes of the appliance, and who watches over them."""
