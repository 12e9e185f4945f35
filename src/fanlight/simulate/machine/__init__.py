"""What the machine is and does in every mode: probe, console, echoes, blur, receiver, picture."""
